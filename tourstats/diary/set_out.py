"""What is set out before doors: things kept from show to show, and what was ticked off before one."""

from __future__ import annotations

from tourstats.diary.shows import called, show_key
from tourstats.diary.store.changes import Store
from tourstats.diary.store.values import cleaned
from tourstats.problems import Problem


def keep_thing(
    store: Store, /, thing: str, who: str | None = None, spare: str | None = None, remark: str | None = None
) -> None:
    """Keep a thing on the list of every show; one that is there already is changed.

    Parameters
    ----------
    thing
        What it is; gear, samples and tracks of tonight's songs are on the list anyway, and take what is said here.
    who
        Who sets it out.
    spare
        What takes its place if it fails.
    remark
        Where it stands, what to look at.

    """
    row = cleaned("things", {"thing": thing, "who": who, "spare": spare, "remark": remark})
    with store.atomic(f'"{row["thing"]}" on the list before doors'):
        tail = "on conflict (thing) do update set who = :who, spare = :spare, remark = :remark"
        store.insert("things", row, tail=tail)


def drop_thing(store: Store, /, thing: str) -> None:
    """Take a thing off the list of every show."""
    with store.atomic(f'the removal of "{thing}" from the list before doors'):
        there = store.select("select thing_id from things where thing = ?", (thing,)).fetchone()
        if there is None:
            raise Problem(f'"{thing}" is not kept on the list before doors. Look at the list for its name.')
        store.write("delete from things where thing_id = ?", (there["thing_id"],))


def tick(store: Store, /, show_id: object, thing: str, *, off: bool = True) -> None:
    """Tick a thing off before a show, or take the tick back."""
    row = cleaned("ticks", {"thing": thing})
    with store.atomic() as change:
        row["show_id"] = show_key(store, show_id)
        change.words = f'the tick at "{row["thing"]}" before the show of {called(store, row["show_id"])}'
        if off:
            store.insert("ticks", row, tail="on conflict do nothing")
        else:
            store.write("delete from ticks where show_id = ? and thing = ?", (row["show_id"], row["thing"]))
