"""What is set out before doors: things kept from show to show, and what was ticked off before one."""

from __future__ import annotations

from tourstats.diary import playing, songs
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


def tick_band(
    store: Store, /, show_id: object, thing: str, title: str, minutes: float | None = None, *, off: bool = True
) -> None:
    """Tick off a song that was tried with the band before a show: a run with the band on that day goes with it.

    A transition, an ending or a few bars are no run of a song: their tick is all that there is to say, by `tick`.

    Parameters
    ----------
    show_id, thing, off
        As for `tick`. A tick that is there already, or is not there to be taken back, changes nothing.
    title
        The song that was run whole.
    minutes
        How long it took.

    """
    with store.atomic() as change:
        key = show_key(store, show_id)
        held = store.select("select 1 from ticks where show_id = ? and thing = ?", (key, thing)).fetchone()
        tick(store, key, thing, off=off)
        change.words = f'the tick at "{thing}" before the show of {called(store, key)}'
        if off == (held is not None):
            return
        (day,) = store.select("select date from shows where show_id = ?", (key,)).fetchone()
        if off:
            playing.add_rehearsal(store, title, "band", day, 1, minutes)
        else:
            _one_run_less(store, title, day, minutes)


def _one_run_less(store: Store, title: str, day: str, minutes: float | None) -> None:
    """Take one run with the band back; what else was run that day stays, and one that is gone already is left gone."""
    asked = (day, songs.song_key(store, title))
    there = store.select("select * from rehearsals where date = ? and song_id = ? and way = 'band'", asked).fetchone()
    if there is None:
        return
    if there["runs"] <= 1:
        playing.remove_rehearsal(store, there["rehearsal_id"])
        return
    left = None if there["minutes"] is None else max(there["minutes"] - (minutes or 0), 0)
    store.update("rehearsals", there["rehearsal_id"], {"runs": there["runs"] - 1, "minutes": left})
