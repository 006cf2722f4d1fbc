"""What the drummer does about it: rehearsals, and what goes wrong at night and is found on the recording."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta

from tourstats.demo import band
from tourstats.demo.dice import Dice
from tourstats.demo.parameters import Truth
from tourstats.demo.scenario import JOINED, Show, Song

WEEK = 7
RELISTENED = 5
"""How many old recordings are heard again, late in the tour."""


@dataclass(frozen=True)
class Play:
    """One song at one show, with all that makes mistakes likely, and how many there were."""

    show_id: int
    position: int
    song: str
    missed: int
    first: bool
    new_transition: bool
    run: str
    log_rate: float
    mistakes: int


@dataclass
class Playing:
    """Everything that comes of rehearsing, playing and listening, as rows."""

    rehearsals: list[dict[str, object]] = field(default_factory=list)
    plays: list[Play] = field(default_factory=list)
    reviews: list[dict[str, object]] = field(default_factory=list)
    mistakes: list[dict[str, object]] = field(default_factory=list)


def play_tour(shows: list[Show], songs: list[Song], truth: Truth, dice: Dice) -> Playing:
    """Learn the repertoire, then go through the shows one by one; the last one is still to come."""
    drummer = _Drummer(shows, {song.title: song for song in songs}, truth, dice)
    drummer.learn()
    for at, show in enumerate(shows):
        if show.number == 1:
            drummer.before_doors(at)
        if show.played:
            drummer.play(at)
            drummer.days_off(show.date, shows[at + 1].date)
    drummer.review()
    drummer.made.rehearsals.sort(key=lambda row: str(row["date"]))
    return drummer.made


class _Runs:
    """Runs outside the show, by song."""

    def __init__(self, made: Playing) -> None:
        self.rows = made.rehearsals
        self.by_song: dict[str, list[tuple[date, str]]] = defaultdict(list)

    def add(self, on: date, song: Song, way: str, runs: int = 1) -> None:
        minutes = max(round(song.minutes * runs * (1.0 if way == "listen" else 1.2)), 1)
        self.rows.append({"date": on, "song": song.title, "way": way, "runs": runs, "minutes": minutes})
        self.by_song[song.title].append((on, way))

    def best(self, song: str, on: date, truth: Truth) -> str:
        """The way of the run that helps most among those of the day and the seven days before; empty if none."""
        near = [way for day, way in self.by_song[song] if 0 <= (on - day).days <= WEEK]
        return min(near, key=lambda way: truth.run[way]) if near else ""


@dataclass
class _Drummer:
    """The one who keeps the diary, with what the hands remember."""

    shows: list[Show]
    titled: dict[str, Song]
    truth: Truth
    dice: Dice
    made: Playing = field(default_factory=Playing)
    last_played: dict[str, int] = field(default_factory=dict)
    transitions: set[tuple[str, str]] = field(default_factory=set)
    happened: dict[tuple[int, int], list[dict[str, object]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.runs = _Runs(self.made)

    def learn(self) -> None:
        """Each song by steps: listened to, on the pad, at the kit, some with the band."""
        weeks = (self.shows[0].date - JOINED).days
        for song in self.titled.values():
            if song.since < JOINED:
                day = JOINED + timedelta(days=int(self.dice.uniform(0, weeks - 24)))
            else:
                day = song.since - timedelta(days=0 if song.learning else self.dice.whole(4, 12))
            steps = [("listen", 2), ("pad", 1), ("kit", 2), ("band", 1)]
            for way, runs in steps[: _STEPS[song.readiness]]:
                if way != "band" or self.dice.chance(0.5):
                    self.runs.add(day, song, way, runs + self.dice.chance(0.3))
                day += timedelta(days=self.dice.whole(1, 3 if song.since >= JOINED else 8))

    def before_doors(self, at: int) -> None:
        """Sound check with the band, then the songs that feel least safe: hard ones and those that were out long."""
        show = self.shows[at]
        tonight = [self.titled[title] for title in show.planned]
        care = {song.title: 1.8 * song.difficulty + 1.2 * math.log1p(self._missed(song.title, at)) for song in tonight}
        for title in self.dice.draw(care, self.dice.pick((1, 2, 3))):
            self.runs.add(show.date, self.titled[title], "band")
        if show.played and self.dice.chance(0.82):
            for title in self.dice.draw(care, self.dice.pick((2, 3, 4, 5, 6))):
                way = self.dice.pick(("kit", "pad", "listen"), (50, 30, 20))
                self.runs.add(show.date, self.titled[title], way, self.dice.pick((1, 1, 2)))

    def days_off(self, last: date, to: date) -> None:
        """On some days without a show, at home between the legs too: a few songs with headphones or on the pad."""
        for after in range(1, (to - last).days):
            day = last + timedelta(days=after)
            if self.dice.chance(0.4):
                songs = self.titled.values()
                ready = {song.title: 1.8 * song.difficulty for song in songs if song.playable(day) and not song.fixture}
                for title in self.dice.draw(ready, self.dice.whole(2, 4)):
                    way = self.dice.pick(("listen", "pad", "kit"), (50, 30, 20))
                    self.runs.add(day, self.titled[title], way)

    def play(self, at: int) -> None:
        """Play one show."""
        show, truth = self.shows[at], self.truth
        shared = (
            truth.room[show.room]
            + truth.date * at / (len(self.shows) - 1)
            + truth.second_show * (show.number > 1)
            + self.dice.normal(sd=truth.night_sd)
        )
        pairs = list(zip(["", *show.played], show.played, strict=False))
        for place, (before, title) in enumerate(pairs):
            first = title not in self.last_played
            missed = 0 if first else self._missed(title, at)
            new_transition = bool(before) and (before, title) not in self.transitions
            way = self.runs.best(title, show.date, truth)
            log_rate = (
                self.titled[title].difficulty
                + (truth.first_time if first else truth.layoff * math.log1p(missed))
                + truth.position * place / (len(pairs) - 1)
                + truth.transition * new_transition
                + (truth.run[way] if way else 0.0)
                + shared
            )
            count = self.dice.poisson(math.exp(log_rate))
            self.made.plays.append(
                Play(show.show_id, place + 1, title, missed, first, new_transition, way, log_rate, count)
            )
        self.transitions.update(pairs)
        self.last_played.update(dict.fromkeys(show.played, at))

    def review(self) -> None:
        """Listen to two shows in three the day after, and to a few of them again near the end."""
        played, truth, dice = self.shows[:-1], self.truth, self.dice
        span = (self.shows[-1].date - played[0].date).days
        heard: list[Show] = []
        for show in played:
            of = truth.review_chance[show.room] if show.number == 1 else truth.second_show_review_chance
            if not dice.chance(of):
                continue
            heard.append(show)
            plays = self._plays(show)
            if not dice.chance(truth.all_songs_chance):
                odds = {play.position: 0.5 * bool(play.run) for play in plays}
                some = set(dice.draw(odds, round(len(plays) * dice.uniform(0.35, 0.75))))
                plays = [play for play in plays if play.position in some]
            self._listen(show, plays, 1, _ear(truth, (show.date - played[0].date).days / span))
        again = dice.draw({show.show_id: 0.0 for show in heard[: len(heard) // 2]}, RELISTENED)
        for show in [show for show in heard if show.show_id in again]:
            reviewed = {row["song"] for row in self.made.reviews if row["show_id"] == show.show_id}
            self._listen(show, [play for play in self._plays(show) if play.song in reviewed], 2, truth.found_last)

    def _listen(self, show: Show, plays: list[Play], listening: int, ear: float) -> None:
        for play in plays:
            self.made.reviews.append({"show_id": show.show_id, "song": play.song, "listening": listening})
            key = (play.show_id, play.position)
            if key not in self.happened:
                song = self.titled[play.song]
                self.happened[key] = [describe(play, show, song, self.dice) for _ in range(play.mistakes)]
            for words in self.happened[key]:  # two ears hear the same mistakes, and each misses some
                if self.dice.chance(ear):
                    self.made.mistakes.append({**words, "listening": listening})

    def _plays(self, show: Show) -> list[Play]:
        return [play for play in self.made.plays if play.show_id == show.show_id]

    def _missed(self, title: str, at: int) -> int:
        """Shows sat out since the song was last played; it feels like a dozen if it never was."""
        return at - self.last_played[title] - 1 if title in self.last_played else 12


_STEPS = {"on paper": 0, "by ear": 1, "by hand": 2, "by heart": 2, "at the kit": 3, "show-ready": 4}
"""Steps of learning behind a song of each readiness."""


def _ear(truth: Truth, at: float) -> float:
    """Chance that a mistake is found; `at` goes from 0 at the first show to 1 at the last."""
    return truth.found_first + (truth.found_last - truth.found_first) * at


_KIND_ODDS = {
    "entry": 12, "ending": 9, "form": 12, "groove": 16, "tempo": 16, "fill": 13, "dynamics": 13, "sound": 7, "other": 2,
}  # fmt: skip
_CAUSE_ODDS = {"sound": (15, 80, 5), "dynamics": (45, 15, 40), "tempo": (70, 5, 25), "groove": (65, 5, 30)}


def describe(play: Play, show: Show, song: Song, dice: Dice) -> dict[str, object]:
    """Put one mistake into words."""
    odds = dict(_KIND_ODDS)
    if play.new_transition:
        odds["entry"] *= 2
    if play.missed > 10 or play.first:  # noqa: PLR2004  # long enough to forget the form
        odds["form"] *= 3
        odds["ending"] *= 2
    if show.room in ("festival", "arena"):
        odds["sound"] *= 3
        odds["tempo"] *= 2
    kind = dice.pick(list(odds), list(odds.values()))
    section = song.dance.sections[-1] if kind == "ending" else _section(song, dice)
    severity = dice.pick((1, 2, 3), (60, 31, 9))
    return {
        "show_id": show.show_id,
        "song": song.title,
        "kind": kind,
        "section": section,
        "bar": dice.whole(1, 16) if dice.chance(0.6) else None,
        "severity": severity,
        "cause": dice.pick(("playing", "sound", "feel"), _CAUSE_ODDS.get(kind, (80, 3, 17))),
        "said_by": "me" if severity == 1 or dice.chance(0.6) else dice.pick(list(band.PEOPLE)[1:], (3, 4, 2, 2, 1)),
        "remark": dice.pick(band.KINDS[kind]).format(section=section),
    }


def _section(song: Song, dice: Dice) -> str:
    """The spot to watch, often; else anywhere."""
    return song.watch_section if song.watch and dice.chance(0.45) else dice.pick(song.dance.sections)
