"""Questions of a reading: what is proposed, what else it may be, and the answers that were given."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import pandas as pd

from tourstats.reading.titles import fold

YES, NO = "yes", "no"
NEW_SONG, SAME = "new", "same"

QUESTIONS = (
    "key", "file", "sheet", "row", "column", "value", "problem", "todo", "candidates", "proposal", "free", "blocking",
)  # fmt: skip
"""Columns of a table of questions."""


@dataclass(frozen=True)
class Where:
    """Where in a file something stands; row and column from 1, 0 where there is none."""

    file: str = ""
    sheet: str = ""
    row: int = 0
    column: str = ""


NOWHERE = Where()


@dataclass(frozen=True)
class Question:
    """One thing that the file leaves open.

    Attributes
    ----------
    key
        Name under which it is answered.
    problem
        What is open, as a sentence.
    todo
        What may be answered, as a sentence.
    offers
        The answers to choose from, the proposal among them.
    proposal
        What the reading takes as long as nobody answers; empty if it cannot propose anything.
    free
        Whether anything else may be typed.
    where, value
        Where it stands, and what.

    """

    key: str
    problem: str
    todo: str
    offers: tuple[str, ...] = ()
    proposal: str = ""
    free: bool = False
    where: Where = NOWHERE
    value: str = ""


@dataclass
class Asking:
    """The answers that were given, and the questions that are still open."""

    answers: Mapping[str, str] = field(default_factory=dict)
    open: dict[str, Question] = field(default_factory=dict)

    def apart(self) -> Asking:
        """Asking with the same answers, for one of several readings that are compared."""
        return Asking(self.answers)

    def choose(
        self, key: str, problem: str, offers: Sequence[str], proposal: str, *,
        todo: str = "", free: bool = False, where: Where = NOWHERE, value: object = "",
    ) -> str:  # fmt: skip
        """Give the answer to a question, or, while it is open, what is proposed; of a wrong answer nothing is made."""
        answer, taken = self.answers.get(key), proposal
        if answer is not None:
            given = str(answer).strip()
            same = next((offer for offer in offers if fold(offer) == fold(given)), None)
            if same is not None or (free and given):
                return given if same is None else same
            problem, taken = f'{problem} "{given}" is no answer to that.', ""
        quoted = [f'"{offer}"' for offer in offers]
        said = todo or f"Answer {' or '.join(quoted)}."
        self.open.setdefault(key, Question(key, problem, said, tuple(offers), taken, free, where, str(value)))
        return proposal

    def confirm(self, key: str, problem: str, *, where: Where = NOWHERE, value: object = "") -> None:
        """Ask for a yes to something that looks odd and cannot be taken otherwise; a no leaves the file out."""
        todo = f'Answer "{YES}" if that is right; else correct the file and read it again.'
        self.choose(key, problem, (YES,), YES, todo=todo, where=where, value=value)

    def take(self, other: Asking) -> None:
        """Add the questions of another."""
        self.open |= {key: question for key, question in other.open.items() if key not in self.open}


def table_of(questions: Iterable[Question], file: str = "") -> pd.DataFrame:
    """Questions as a table, one row each."""
    rows = [
        (one.key, one.where.file or file, one.where.sheet, one.where.row, one.where.column, one.value, one.problem,
         one.todo, list(one.offers), one.proposal, one.free, True)
        for one in questions
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=list(QUESTIONS)).astype({"row": "int64", "free": bool, "blocking": bool})
