"""What else a diary holds: notes, who travels with the tour, and what somebody counted at the door."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tourstats.demo import band
from tourstats.demo.dice import Dice
from tourstats.demo.scenario import Show, Song

TRAVELLERS = 1900
LONELIEST, KEENEST = 2, 60
"""Travellers were at two shows at least; nobody at more than this."""
Rows = list[dict[str, object]]


@dataclass(frozen=True)
class _Known:
    """What a note may speak of."""

    shows: Sequence[Show]
    songs: dict[str, Song]
    dice: Dice

    def text(self, texts: Sequence[str], song: Song) -> str:
        """One of the sentences; none about things to set out where there are none."""
        return self.dice.pick([text for text in texts if song.gear or "{gear}" not in text])

    def words(self, text: str, song: Song, after: Song | None = None) -> str:
        """Fill a sentence with what belongs to the song."""
        section = song.watch_section if song.watch else self.dice.pick(song.dance.sections[1:])
        gear = song.gear.split(";")[0]
        starter = after.starts_by if after else song.starts_by
        who = "I count the second one in" if starter == "drums" else f"{starter.capitalize()} starts the second one"
        next_tempo = after.tempo if after else song.tempo
        return text.format(section=section, gear=gear, tempo=song.tempo, next_tempo=next_tempo, who_starts=who)


def notes(shows: Sequence[Show], songs: dict[str, Song], dice: Dice) -> Rows:
    """Remarks on songs, transitions, rooms, shows and songs in a kind of venue, by date."""
    known = _Known(shows, songs, dice)
    rows = [
        *(_song_note(known) for _ in range(44)),
        *(_transition_note(known) for _ in range(20)),
        *_room_notes(known),
        *_show_notes(known),
        *(_room_song_note(known) for _ in range(12)),
    ]
    return sorted(rows, key=lambda row: str(row["date"]))


def _song_note(known: _Known) -> dict[str, object]:
    show = known.dice.pick(known.shows)
    song = known.songs[known.dice.pick(show.played)]
    personal = known.dice.chance(0.12)
    text = known.text(band.PERSONAL_NOTES if personal else band.SONG_NOTES, song)
    return {
        "date": show.date, "about": "song", "song": song.title, "text": known.words(text, song), "personal": personal
    }  # fmt: skip


def _transition_note(known: _Known) -> dict[str, object]:
    show = known.dice.pick(known.shows)
    at = known.dice.whole(1, len(show.played) - 1)
    before, after = known.songs[show.played[at - 1]], known.songs[show.played[at]]
    jump = abs(math.log(after.tempo / before.tempo)) > 0.15  # noqa: PLR2004  # a jump that one hears
    text = (
        band.TRANSITION_NOTES[0] if jump and known.dice.chance(0.5) else known.text(band.TRANSITION_NOTES[1:], before)
    )
    return {
        "date": show.date, "about": "transition", "song": before.title, "next_song": after.title,
        "text": known.words(text, before, after),
    }  # fmt: skip


def _room_notes(known: _Known) -> Rows:
    """Each is written the first or second time in such a room."""
    rows: Rows = []
    for room, texts in band.ROOM_NOTES.items():
        there = [show for show in known.shows if show.room == room]
        rows += [
            {"date": show.date, "about": "room", "room": room, "text": text}
            for text, show in zip(texts, there, strict=False)
        ]
    return rows


def _show_notes(known: _Known) -> Rows:
    rows: Rows = []
    open_air = known.dice.pick([show for show in known.shows if show.room == "festival"])
    for text in band.SHOW_NOTES:
        show = open_air if "outdoors" in text else known.dice.pick(known.shows)
        words = text.format(position=known.dice.whole(8, 19))
        rows.append({"date": show.date, "about": "show", "show": show, "text": words})
    return rows


def _room_song_note(known: _Known) -> dict[str, object]:
    show = known.dice.pick(known.shows)
    song = known.songs[known.dice.pick(show.played)]
    text = known.text(band.ROOM_SONG_NOTES, song)
    return {
        "date": show.date, "about": "song", "song": song.title, "room": show.room,
        "text": known.words(text, song),
    }  # fmt: skip


def attendance(shows: Sequence[Show], dice: Dice) -> Rows:
    """Who came more than once: a heavy tail, and mostly runs of shows near one another."""
    rows: Rows = []
    odds = {room: math.log(many) for room, many in _CROWD.items()}
    for _ in range(TRAVELLERS):
        person = "".join(dice.pick("0123456789abcdef") for _ in range(12))
        person = f"a{person[1:]}" if person.isdecimal() else person  # no hash that could be a ticket's number
        many = min(int(LONELIEST * dice.uniform(0.0001, 1) ** -0.62), KEENEST)
        centre = dice.pick(range(len(shows)), [_CROWD[show.room] for show in shows])
        width = 3.0 + many * 0.8
        near = {at: odds[show.room] - ((at - centre) / width) ** 2 for at, show in enumerate(shows)}
        rows += [{"person": person, "show": shows[at]} for at in dice.draw(near, many)]
    return sorted(rows, key=lambda row: (row["show"].show_id, row["person"]))  # type: ignore[attr-defined]


_CROWD = {"theatre": 10, "arena": 16, "festival": 22, "club": 5, "studio": 1, "other": 5}
"""How many travellers a kind of venue draws, in proportion."""


def counts(shows: Sequence[Show], dice: Dice) -> Rows:
    """On a few nights somebody asked at the door who had been here before. Rounded, as people do."""
    rows: Rows = []
    for at in sorted(dice.draw(dict.fromkeys(range(3, len(shows)), 0.0), 9)):
        show, earlier = shows[at], shows[at - dice.pick((1, 1, 1, 2, 3))]
        people = round(show.holds * dice.uniform(0.7, 1.0) / 10) * 10
        share = 0.16 if show.city == earlier.city else 0.07
        most = min(people, earlier.holds)
        returning = max(round(most * share * dice.uniform(0.6, 1.5) / 5) * 5, 5)
        rows.append({"show": show, "people": people, "earlier": earlier, "returning": returning})
    return rows
