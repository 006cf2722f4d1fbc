"""What is wrong with files of scans: listed, a few rows of each kind, and never what identifies a person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import pandas as pd

MOST = 20
"""Rows that are listed for each thing that is wrong; the rest is counted."""
SHOWN = 60
PROBLEMS = ["file", "row", "column", "value", "problem", "todo"]


@dataclass
class Trouble:
    """Gathers what is wrong, a few rows of each kind, and counts the rest."""

    listed: list[tuple[object, ...]] = field(default_factory=list)
    seen: dict[tuple[str, str, str], int] = field(default_factory=dict)

    def add(self, file: str, rows: Sequence[int], column: str, values: Sequence[str], problem: str, todo: str) -> None:
        """Note rows with the same thing wrong."""
        key = (file, column, problem)
        room = max(0, MOST - self.seen.get(key, 0))
        self.seen[key] = self.seen.get(key, 0) + len(rows)
        for row, value in zip(rows[:room], values[:room], strict=True):
            self.listed.append((file, row, column, cut(value), problem, todo))

    def stop(self, file: str, problem: str, todo: str, row: int | None = None) -> None:
        """Note that a file cannot be used at all."""
        self.listed.append((file, row, "", "", problem, todo))

    def table(self) -> pd.DataFrame:
        """Everything that is wrong, as a table."""
        rest = [
            (file, None, column, "", f"{problem}: {count - MOST} more rows", "")
            for (file, column, problem), count in self.seen.items()
            if count > MOST
        ]
        made = pd.DataFrame([*self.listed, *rest], columns=PROBLEMS)
        return made.astype({name: "Int64" if name == "row" else "str" for name in PROBLEMS})


class Stopped(Exception):  # noqa: N818  # not an error: the list of problems says it
    """A file cannot be read on."""


def cut(text: str) -> str:
    """A value as it is shown."""
    return text if len(text) <= SHOWN else f"{text[: SHOWN - 1]}…"
