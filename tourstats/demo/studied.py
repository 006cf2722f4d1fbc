"""What the drummer wrote down of songs: their shapes, what was known of them when asked, and what worked at night."""

from __future__ import annotations

from datetime import date, timedelta

from tourstats.demo import band
from tourstats.demo.dice import Dice
from tourstats.demo.drumming import Playing
from tourstats.demo.scenario import Song

Rows = list[dict[str, object]]
WRITTEN, WORKED = 0.35, 0.06
"""Share of the songs whose shape is written down, and of clean reviewed performances of which something is said."""
HITS = ("crash on 1 going in", "choke on 4", "last two bars unison", "pick-up into it", "stop on 3")
CUES = ("Ilka's bow", "a nod from Odile", "after the breath", "Runa looks up")
LEADS = ("Ilka", "Odile", "Runa", "Bram")
TOLD = (
    "tempo sat right in the {section}", "the {section} breathed", "{section} as quiet as it should be",
    "came in together at the {section}", "held back in the {section}, and it carried",
)  # fmt: skip


def shapes(songs: list[Song], dice: Dice) -> Rows:
    """A row a section of each song whose shape is written down."""
    rows: Rows = []
    for song in songs:
        if not dice.chance(WRITTEN):
            continue
        bars = dice.pick((8, 12, 16))
        for at, name in enumerate(song.dance.sections, start=1):
            short = name in ("intro", "coda")
            thing = band.NOUN[dice.pick(song.dance.gear)]
            rows.append({
                "song": song.title, "position": at, "name": name, "bars": dice.pick((2, 4)) if short else bars,
                "feel": thing if dice.chance(0.35) else None,
                "leads": dice.pick(LEADS) if dice.chance(0.2) else None,
                "cue": dice.pick(CUES) if dice.chance(0.5 if short else 0.15) else None,
                "hits": dice.pick(HITS) if dice.chance(0.25) else None,
            })  # fmt: skip
    return rows


def tested(shapes: Rows, last: date, dice: Dice) -> Rows:
    """Answers of the last weeks, a few at a time: three in four were known, more the second time."""
    rows: Rows = []
    for title in dict.fromkeys(row["song"] for row in shapes):
        asked = [
            question
            for row in shapes
            if row["song"] == title
            for question in (f"How many bars is the {row['name']}?", f"What comes after the {row['name']}?")
        ][:-1]
        for sitting in range(dice.pick((0, 1, 2), (50, 30, 20))):
            day = last - timedelta(days=dice.whole(1, 9) + 10 * (1 - sitting))
            for question in dice.draw(dict.fromkeys(asked, 0.0), 5):
                rows.append(
                    {"song": title, "date": day, "asked": question, "known": dice.chance(0.75 + 0.12 * sitting)}
                )
    return sorted(rows, key=lambda row: str(row["date"]))


def worked(songs: list[Song], playing: Playing, dice: Dice) -> Rows:
    """What was good to hear, of some performances in which nothing was found."""
    titled = {song.title: song for song in songs}
    wrong = {(row["show_id"], row["song"]) for row in playing.mistakes}
    rows: Rows = []
    for row in playing.reviews:
        if row["listening"] == 1 and (row["show_id"], row["song"]) not in wrong and dice.chance(WORKED):
            section = dice.pick(titled[str(row["song"])].dance.sections)
            words = dice.pick(TOLD).format(section=section)
            rows.append({"show_id": row["show_id"], "song": row["song"], "section": section, "remark": words})
    return rows
