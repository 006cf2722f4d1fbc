"""What is there before the first note: the repertoire with what is hidden in it, and where the tour goes."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import date, timedelta

from tourstats.demo import band
from tourstats.demo.dice import Dice
from tourstats.demo.parameters import Truth
from tourstats.tables import READINESS

JOINED = date(2031, 1, 6)
"""The day the drummer joined."""


@dataclass(frozen=True)
class Song:
    """A song, with what nobody but the process knows at the end."""

    title: str
    aliases: str
    dance: band.Dance
    watch_section: str
    watch: str
    tempo: int
    minutes: float
    starts_by: str
    gear: str
    samples: str
    track: str
    since: date
    new_release: bool = False
    readiness: str = "show-ready"
    retired: date | None = None
    learning: bool = False
    opens: bool = False
    closes: bool = False
    difficulty: float = 0.0
    returning: float = 0.0
    staying: float = 0.0
    place: float = 0.5

    @property
    def fixture(self) -> bool:
        """Whether it is in nearly every night."""
        return self.opens or self.closes

    def playable(self, on: date) -> bool:
        """Whether the leader may write it into a set of that day."""
        return not self.learning and self.since <= on and (self.retired is None or on < self.retired)


@dataclass
class Show:
    """One performance, and what comes of it."""

    show_id: int
    date: date
    number: int
    leg: str
    venue: str
    city: str
    room: str
    holds: int
    planned: list[str] = field(default_factory=list)
    played: list[str] = field(default_factory=list)
    planned_encore: int = 0
    encore: int = 0

    @property
    def set_minutes(self) -> int:
        """How long the promoter asked for."""
        return {"festival": 90, "studio": 90, "arena": 100}.get(self.room, 95)


def repertoire(truth: Truth, dice: Dice) -> list[Song]:
    """The songs in the order of the band's book, the newest last."""
    return [_song(*line, order, truth, dice) for order, line in enumerate(band.SONGS)]


def _song(title: str, marks: str, aliases: str, order: int, truth: Truth, dice: Dice) -> Song:
    dance = band.DANCES[marks[0]]
    mark = marks[1:]
    hard = dice.normal()
    shared = truth.return_by_difficulty
    section = dice.pick(dance.sections[1:])
    watch = dice.pick(band.WATCH[marks[0]]).format(section=section) if dice.chance(0.55) else ""
    return Song(
        title=title,
        aliases=aliases,
        dance=dance,
        watch_section=section,
        watch=watch,
        tempo=dice.whole(dance.slowest, dance.fastest),
        minutes=_minutes(dance, dice),
        starts_by=dice.pick(band.STARTS, (6, 4, 4, 3, 2, 2, 1, 2)),
        gear=_gear(dance, watch, dice),
        samples="; ".join(dice.draw(dict.fromkeys(band.SAMPLES, 0.0), dice.pick((0, 1, 2, 3), (78, 14, 6, 2)))),
        track=dice.pick(("", *band.TRACKS), (76, 12, 8, 4)),
        since=_since(mark, order, dice),
        new_release=mark == "*",
        readiness=READINESS[(order * 2) % (len(READINESS) - 1)] if mark == "?" else READINESS[-1],
        retired=date(2031, 4, 14) + timedelta(days=dice.whole(0, 110)) if mark == "-" else None,
        learning=mark == "?",
        opens=mark == "^",
        closes=mark == "$",
        difficulty=truth.difficulty_mean + truth.difficulty_sd * hard,
        returning=truth.return_sd * (shared * hard + math.sqrt(1 - shared**2) * dice.normal()),
        staying=truth.staying_sd * dice.normal(),
        place=min(max(dice.normal(dance.place, 0.18), 0.06), 0.94),
    )


def _gear(dance: band.Dance, watch: str, dice: Dice) -> str:
    """Nothing but the kit, or one or two things more; and what the spot to watch needs."""
    drawn = dice.draw({item: -0.4 * at for at, item in enumerate(dance.gear)}, dice.pick((0, 0, 0, 1, 1, 2)))
    needed = [item for item in dance.gear if band.NOUN[item] in watch]
    return "; ".join(item for item in dance.gear if item in drawn or item in needed)


def _minutes(dance: band.Dance, dice: Dice) -> float:
    """Three to six minutes, slow ones longer, in steps of a quarter."""
    longest = 5.5 if dance.slowest < 70 else 4.75  # noqa: PLR2004  # slow: below a walking pace
    return round(4 * dice.uniform(2.75, longest)) / 4


def _since(mark: str, order: int, dice: Dice) -> date:
    """Old songs from the band's first years on; new ones on a day of the tour, learned on the bus."""
    if mark in ("*", "+"):
        return date(2031, 4, 8) + timedelta(days=dice.whole(0, 165))
    if mark == "?":
        return date(2031, 9, 1) + timedelta(days=dice.whole(0, 40))
    return date(2024, 3, 1) + timedelta(days=order * 17 + dice.whole(0, 16))


@dataclass(frozen=True)
class Leg:
    """A run of shows and where it likes to play."""

    name: str
    starts: date
    shows: int
    rooms: dict[str, int]
    matinee: int | None = None
    """Place of the show that has a second one on the same day."""


LEGS = (
    Leg("Spring halls", date(2031, 3, 14), 27, {"theatre": 4, "club": 6, "other": 6, "studio": 6}, 15),
    Leg("Summer fields", date(2031, 6, 13), 24, {"festival": 14, "arena": 6, "theatre": 1}),
    Leg("Autumn rooms", date(2031, 9, 12), 24, {"theatre": 4, "club": 6, "other": 5, "arena": 3, "studio": 4}, 9),
)
LAST = (("Lindermoor", "Moor Green"), ("Tarnholt", "Weavers' Hall"))
"""Where the tour so far ends: a field last night, a theatre the band has played before tonight."""
FIRST = (("Vellmouth", "Corn Exchange"), ("Tarnholt", "Weavers' Hall"))


def itinerary(dice: Dice) -> list[Show]:
    """Every show of the three legs, in order; the last one is tonight's."""
    shows: list[Show] = []
    for leg in LEGS:
        day = leg.starts
        for venue, nights in _route(leg, dice):
            for night in range(nights):
                if night == 0 and shows and shows[-1].leg == leg.name:
                    day += timedelta(days=dice.pick((1, 2, 3), (60, 28, 12)))
                elif night:
                    day += timedelta(days=1)
                twice = len([show for show in shows if show.leg == leg.name]) == leg.matinee
                for number in (1, 2) if twice else (1,):
                    city, name, room, holds = venue
                    shows.append(Show(len(shows) + 1, day, number, leg.name, name, city, room, holds))
    return shows


def _route(leg: Leg, dice: Dice) -> list[tuple[tuple[str, str, str, int], int]]:
    """Places and nights there; the tour begins and ends where the scenario says."""
    places = {(city, venue): (city, venue, room, holds) for city, venue, room, holds in band.VENUES}
    first, last = LEGS.index(leg) == 0, LEGS.index(leg) == len(LEGS) - 1
    ends = [*(FIRST if first else ()), *(LAST if last else ())]
    free = {at: place[2] for at, place in places.items() if place[2] in leg.rooms and at not in ends}
    odds = {at: math.log(leg.rooms[room]) for at, room in free.items()}
    middle = dice.draw(odds, len(odds))
    nights = {at: dice.pick((1, 2, 3), (76, 20, 4)) for at in middle}
    route = [(places[at], 1) for at in FIRST] if first else []
    left = leg.shows - len(ends) - (leg.matinee is not None)
    for at in middle:
        if left:
            stay = min(nights[at], left)
            route.append((places[at], stay))
            left -= stay
    return route + ([(places[at], 1) for at in LAST] if last else [])
