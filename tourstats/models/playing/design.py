"""Which circumstances the data can carry, decided from what was reviewed and never from what was found to matter.

Each song is held against itself: what counts are the performances of songs that were reviewed twice and not always
clean. The rule, in this order for each circumstance:
1. it has to differ: shows (or performances) enough with it and without it;
2. it has to differ within songs: its part that neither the circumstances before it nor the song's own mean explain;
3. the mistakes found have to carry one coefficient more: ten for each coefficient while those that are asked about
   first (layoff, room, position, date, runs) come in, forty for each when one of the others does. (P. Peduzzi and
   others (1996), A simulation study of the number of events per variable in logistic regression analysis, J. Clin.
   Epidemiol. 49: 1373-1379; ten is theirs, from memory; forty is ours.)
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from tourstats.models.playing.performances import BEST_FIRST, NO_ROOM, ON_THE_DAY, RUN, WENT_WRONG, Words
from tourstats.models.playing.within import telling

Array = npt.NDArray[np.float64]

FEWEST_SHOWS = 8
FEWEST_MISTAKES = 20
SHOWS_OF_A_ROOM = 2
SHOWS_EITHER_WAY = 5
PLAYS_EITHER_WAY = 20
MISTAKES_FIRST, MISTAKES_THEN = 10, 40
TOLD_APART_FIRST, TOLD_APART_THEN = 0.05, 0.2
"""Share of a circumstance that has to be its own."""
ROOMS_SELDOM = "rooms seen too seldom"
THEN_ASKED = ("new transition", "other room", "second show", "day off", "encore")
HELD_STILL = ("first", "break")
OF_A_SHOW = ("other room", "second show", "day off")


@dataclass(frozen=True)
class Design:
    """A regression: `matrix` with a row a reviewed performance, `names` of its columns, and why it has these.

    `told` are names that answer a question; the others have to be held still. `decided` is a row a circumstance:
    circumstance, used, because, have, need.
    """

    matrix: Array
    names: tuple[str, ...]
    told: tuple[str, ...]
    room: str
    decided: pd.DataFrame


class _Choice:
    """Circumstances accepted so far, and the account of those that were not."""

    def __init__(self, table: pd.DataFrame) -> None:
        self.tells = telling(table.mistakes.to_numpy(float), pd.factorize(table.song)[0])
        self.table = table[self.tells]
        self.song = pd.factorize(self.table.song)[0]
        self.columns: dict[str, Array] = {}
        self.within: list[Array] = []  # at right angles to one another, of length 1
        self.told: list[str] = []
        self.rows: list[dict[str, object]] = []

    def ask(self, name: str, values: Array, *, first: bool, by_show: bool = False) -> None:
        """Accept a circumstance, or note why not."""
        reason = self._why_not(values[self.tells], first=first, by_show=by_show)
        self.rows.append({"circumstance": name, "used": not reason, **(reason or _carried())})
        if not reason:
            self.told.append(name)
            self.hold(name, values)

    def hold(self, name: str, values: Array) -> None:
        """Keep something still."""
        self.columns[name] = values
        own = self._apart(self._within_songs(values[self.tells]))
        length = float(np.linalg.norm(own))
        self.within.append(own / length if length > 1e-9 * len(own) else np.zeros_like(own))

    def drop(self, latest: int) -> None:
        """Let go of so many that were held still last."""
        for name in list(self.columns)[-latest:]:
            del self.columns[name]
            self.within.pop()

    def _within_songs(self, values: Array) -> Array:
        mean = np.bincount(self.song, values) / np.bincount(self.song)
        return np.asarray(values - mean[self.song])

    def _why_not(self, values: Array, *, first: bool, by_show: bool) -> dict[str, object]:
        if not len(values) or not np.ptp(values):
            return {"because": "it never differs", "have": 0, "need": 1}
        if np.isin(values, (0.0, 1.0)).all():
            sides = [self._units(values == side, by_show=by_show) for side in (0, 1)]
            least = (SHOWS_OF_A_ROOM if first else SHOWS_EITHER_WAY) if by_show else PLAYS_EITHER_WAY
            if min(sides) < least:
                unit = "shows" if by_show else "performances"
                which = "with it" if sides[1] < sides[0] else "without it"
                return {"because": f"too few {unit} {which}", "have": min(sides), "need": least}
        own, apart = self._own_share(values), TOLD_APART_FIRST if first else TOLD_APART_THEN
        if own < apart:
            return {"because": "it goes together with other circumstances", "have": own, "need": apart}
        mistakes, need = int(self.table.mistakes.sum()), MISTAKES_FIRST if first else MISTAKES_THEN
        need *= len(self.columns) + 1
        return {"because": "too few mistakes found", "have": mistakes, "need": need} if mistakes < need else {}

    def _own_share(self, values: Array) -> float:
        """Share of the variance that neither songs nor the other circumstances explain."""
        own = self._apart(self._within_songs(values))
        return float((own**2).sum() / ((values - values.mean()) ** 2).sum())

    def _apart(self, own: Array) -> Array:
        """What the circumstances that are held still leave of another; twice, for the digits that once would lose."""
        others = np.array(self.within).reshape(len(self.within), len(own))
        for _ in range(2):
            own = own - (others @ own) @ others
        return own

    def _units(self, rows: npt.NDArray[np.bool_], *, by_show: bool) -> int:
        return int(self.table.loc[rows, "at"].nunique()) if by_show else int(rows.sum())


def design(table: pd.DataFrame, instead_of_date: Array | None = None) -> Design:
    """Choose what a table of performances can carry.

    Parameters
    ----------
    table
        As `performances`.
    instead_of_date
        0 or 1 a row: which part of the tour it belongs to, when two parts are compared; "part" then takes the
        place of "date".

    """
    choice = _Choice(table)
    choice.ask("layoff", table.layoff.to_numpy(float), first=True)
    for name in HELD_STILL:
        if np.ptp(table[name].to_numpy(float)) > 0 if len(table) else False:
            choice.hold(name, table[name].to_numpy(float))
    room = _rooms(choice, table)
    choice.ask("position", table.position.to_numpy(float), first=True)
    if instead_of_date is None:
        choice.ask("date", table.date.to_numpy(float), first=True, by_show=True)
    else:
        choice.ask("part", instead_of_date, first=True, by_show=True)
    for name in HELD_STILL:
        _told_when_enough(choice, name)
    _runs(choice, table)
    for name in THEN_ASKED:
        choice.ask(name, table[name].to_numpy(float), first=False, by_show=name in OF_A_SHOW)
    names = tuple(choice.columns)
    matrix = np.column_stack([np.empty((len(table), 0)), *choice.columns.values()])
    decided = pd.DataFrame(choice.rows, columns=["circumstance", "used", "because", "have", "need"])
    return Design(matrix, names, tuple(choice.told), room, decided)


def commonest_room(at: npt.NDArray[np.int64], room: Words, usual: Words) -> str:
    """The kind of venue that the others are held against: that of most shows, if enough of them were reviewed.

    `at` is the show of each performance, `room` its kind of venue, `usual` the kind of most shows until then.
    """
    if not len(at):
        return NO_ROOM
    nights = np.unique(at, return_index=True)[1]
    tally = Counter(room[nights].tolist())
    latest = str(usual[nights[-1]])
    if tally[latest] >= SHOWS_OF_A_ROOM:
        return latest
    return str(min(kind for kind, shows in tally.items() if shows == max(tally.values())))


def usual_of(table: pd.DataFrame) -> str:
    """`commonest_room` of a table of performances."""
    return commonest_room(table["at"].to_numpy(), *(table[name].to_numpy(object) for name in ("room", "usual room")))


def _rooms(choice: _Choice, table: pd.DataFrame) -> str:
    """Each kind of venue against the commonest; those seen too seldom are held still together."""
    rooms = table.room.to_numpy(object)
    usual = usual_of(table)
    for room in sorted(set(rooms) - {usual}):
        choice.ask(f"room: {room}", (rooms == room).astype(float), first=True, by_show=True)
    told = {name.removeprefix("room: ") for name in choice.told if name.startswith("room: ")}
    rest = ~table.room.isin(told | {usual}).to_numpy()
    if rest.any():
        choice.hold(ROOMS_SELDOM, rest.astype(float))
    return usual


def _told_when_enough(choice: _Choice, name: str) -> None:
    """A song's first time, and a break, are always held still; each is told when there are enough of them."""
    times = int((choice.table[name] > 0).sum())
    enough = min(times, len(choice.table) - times) >= PLAYS_EITHER_WAY and name in choice.columns
    if enough:
        choice.told.append(name)
    reason = {"because": "too few performances with it", "have": times, "need": PLAYS_EITHER_WAY}
    choice.rows.append({"circumstance": name, "used": enough, **(_carried() if enough else reason)})


def _runs(choice: _Choice, table: pd.DataFrame) -> None:
    """Each way to run a song in the week before; and, held still, whether it went wrong the last times.

    Who runs what went wrong would else be praised for what chance makes good by itself. Three times, since a run
    counts for a week.
    """
    if not (table.ran != "").any():
        return
    for name in WENT_WRONG:
        choice.hold(name, table[name].to_numpy(float))
    for way in BEST_FIRST:
        choice.ask(RUN + way, table[RUN + way].to_numpy(float), first=True)
    if not any(name.startswith(RUN) for name in choice.told):
        choice.drop(len(WENT_WRONG))
        return
    fresh = table[ON_THE_DAY].to_numpy(float)[choice.tells]
    if min((fresh > 0).sum(), (fresh < 0).sum()) >= PLAYS_EITHER_WAY:
        choice.ask(ON_THE_DAY, table[ON_THE_DAY].to_numpy(float), first=False)


def _carried() -> dict[str, object]:
    return {"because": "", "have": 0, "need": 0}
