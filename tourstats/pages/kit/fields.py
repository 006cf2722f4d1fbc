"""The fields of one row: filled from a table, checked one by one, only what was changed handed on."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import ipywidgets as w
import pandas as pd

from tourstats.diary.store.values import cleaned
from tourstats.pages.kit.widgets import WIDE, Said, choice, lines, text
from tourstats.problems import Problem, counted
from tourstats.tables import KINDS, ROOMS, described

LABELS = {
    "song": "Title", "starts_by": "Who starts", "watch": "Spots to watch", "room": "Kind of venue",
    "severity": "Who heard it", "personal": "Personal: leave it out of what others see",
}  # fmt: skip
"""Words for a column as a field, where a form says it otherwise than a table."""
SEVERITY = [("1 only I heard it", 1), ("2 the band did", 2), ("3 everyone did", 3)]


def new_show(day: date) -> w.VBox:
    """Fields for a show that the diary does not have yet: day, city, venue, kind of venue."""
    room = choice("Kind of venue", [("not said", None), *((room, room) for room in ROOMS)])
    return w.VBox([w.DatePicker(description="Day", value=day, layout=WIDE), text("City"), text("Venue"), room])


class Fields:
    """Some columns of one table as fields, each with a place for what is wrong with it."""

    def __init__(self, table: str, names: tuple[str, ...]) -> None:
        self.table, self.names = table, names
        self.fields = {name: _field(table, name) for name in names}
        self.said = {name: Said() for name in names}
        self.before: dict[str, Any] = dict.fromkeys(names)
        self.box = w.VBox([w.VBox([self.fields[name], self.said[name]]) for name in names])

    def fill(self, row: Mapping[str, Any] | None) -> None:
        """Put a row into the fields; None empties them."""
        for name, field in self.fields.items():
            self.said[name].clear()
            value = None if row is None else row.get(name)
            field.value = _shown(field, value, self.table, name)
        self.before = {name: field.value for name, field in self.fields.items()}

    def changed(self) -> dict[str, Any]:
        """What differs from what was filled in, by column; what is wrong is said beside its field.

        Raises
        ------
        Problem
            If a field holds what its column cannot.

        """
        wrong = 0
        values: dict[str, Any] = {}
        for name, field in self.fields.items():
            self.said[name].clear()
            if field.value == self.before[name]:
                continue
            try:
                values |= cleaned(self.table, {name: field.value})
            except Problem as problem:
                self.said[name].wrong(str(problem))
                wrong += 1
        if wrong:
            raise Problem(f"Nothing was saved: {counted(wrong, 'field')} above cannot be so.")
        return values


def _field(table: str, name: str) -> w.ValueWidget:
    """Pick the widget that fits a column."""
    rule = described(table)[name]
    label = LABELS.get(name) or rule.label.capitalize() + (f", {rule.unit}" if rule.unit else "")
    style = {"description_width": "initial"}
    if rule.choices:
        empty = [("not said", None)] if rule.nullable else []
        named = SEVERITY if name == "severity" else [(str(one), one) for one in rule.choices]
        return choice(label, [*empty, *named])
    if rule.kind == "bool":
        return w.Checkbox(description=label, indent=False, layout=WIDE)
    if rule.kind == "day":
        return w.DatePicker(description=label, layout=WIDE, style=style)
    if name == "kind":
        return w.Combobox(description=label, options=KINDS, layout=WIDE, style=style)
    if name in ("watch", "remark", "text"):
        return lines(label, 3)
    return text(label, placeholder="separated by semicolons" if rule.items else "")


def _shown(field: w.ValueWidget, value: Any, table: str, name: str) -> Any:  # noqa: ANN401  # any cell
    """A cell as its field takes it."""
    missing = value is None or bool(pd.isna(value))
    if isinstance(field, w.DatePicker):
        return None if missing else date(value.year, value.month, value.day)
    if isinstance(field, w.Checkbox):
        return not missing and bool(value)
    if isinstance(field, w.Dropdown):
        allowed = described(table)[name].choices
        return next((one for one in allowed if one == value), field.options[0][1])
    if missing:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)
