"""What stands beside the songs comes out too: town, venue, encore and remarks, in whatever form sets are kept."""

# ruff: noqa: E501  # a table is read in one piece

import io
from datetime import date, timedelta

import openpyxl
import pytest

from tests.reading import test_ways
from tourstats.diary import opened
from tourstats.diary.intake import intake
from tourstats.reading.sources import Pasted, read

SONGS = [*test_ways.SONGS[:-1], "Zinc & Harbour"]
PLACES = [("Oslebury", "Town Hall"), ("Hessop", "Live Loft"), ("Vantry", "Place des Ormes"), ("Quarm", "Old Baths"),
          ("Little Ostby", "City Tannery"), ("Bad Merle", "Gasworks No. 2")]  # fmt: skip
DAYS = [date(2031, 4, 29) + timedelta(days=days) for days in (0, 1, 3, 4, 8, 9)]
NIGHTS = [
    (day, *place, [SONGS[(3 * at + step) % 8] for step in range(7)])
    for at, (day, place) in enumerate(zip(DAYS, PLACES, strict=True))
]
ENCORE = 5
SAID = {
    (0, 1): "short",
    (1, 3): "new ending",
    (2, 0): "short",
    (3, 2): "new ending",
    (4, 1): "Odile sings",
    (4, 4): "Odile sings",
    (5, 4): "new ending",
}
"""Night and place of remarks; "new ending" stands behind three titles."""


def sets(heading, line, encore, between="\n\n"):
    """A text of all nights: what `heading` makes of each, then its lines, with something before the encore."""
    nights = []
    for at, night in enumerate(NIGHTS):
        lines = [line(place, song, SAID.get((at, place))) for place, song in enumerate(night[3])]
        nights.append("\n".join([heading(*night[:3]), *lines[:ENCORE], *encore, *lines[ENCORE:]]))
    return between.join(nights)


def numbered(place, song, said):
    """A song with its number, and what is said of it in brackets."""
    return f"{place + 1}. {song}" + (f" ({said})" if said else "")


def long_table():
    """A row a song; the encore has numbers of its own."""
    rows = ["Date,Town,Venue,#,Song,Comment"]
    for at, (day, town, venue, songs) in enumerate(NIGHTS):
        for place, song in enumerate(songs):
            number = f"E{place - ENCORE + 1}" if place >= ENCORE else place + 1
            rows.append(f"{day},{town},{venue},{number},{song},{SAID.get((at, place), '')}")
    return "\n".join(rows)


def sheets():
    """A sheet a show, with a column of notes."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for at, (day, town, venue, songs) in enumerate(NIGHTS):
        sheet = book.create_sheet(f"{day:%d-%m} {town}")
        for row in (["Date", day], ["Venue", venue], ["Town", town], [], ["#", "Song", "Notes"]):
            sheet.append(row)
        for place, song in enumerate(songs):
            if place == ENCORE:
                sheet.append([None, "ENCORE"])
            sheet.append([place + 1, song, SAID.get((at, place))])
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def grid():
    """A column of songs and one of notes for each show; the encore has a row of its own."""
    book = openpyxl.Workbook()
    sheet = book.active
    for at, (day, town, venue, songs) in enumerate(NIGHTS):
        column = 2 + 2 * at
        for row, texts in enumerate(((day, None), (f"{town} - {venue}", None), ("Song", "Notes")), start=1):
            sheet.cell(row, column, texts[0])
            sheet.cell(row, column + 1, texts[1])
        for place, song in enumerate(songs):
            row = 4 + place + (place >= ENCORE)
            sheet.cell(row, 1, place + 1)
            sheet.cell(row, column, song)
            sheet.cell(row, column + 1, SAID.get((at, place)))
    sheet.cell(4 + ENCORE, 1, "ENC")
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


KEPT = {
    "blocks": (sets(lambda day, town, venue: f"{day:%A %-d %B %Y} - {town}, {venue}", numbered, ["Encore:"]), "sets.txt"),
    "a rule before the encore": (
        "2031\n\n" + sets(
            lambda day, town, venue: f"{day:%-d %b} {town} / {venue}",
            lambda _, song, said: song + (f" - {said}" if said else ""),
            ["--"],
        ),
        "sets.txt",
    ),
    "a row a song": (long_table(), "sets.csv"),
    "a sheet a show": (sheets(), "sets.xlsx"),
    "a column a show": (grid(), "sets.xlsx"),
    "an empty line before the encore": (
        sets(lambda day, town, venue: f"{day:%d/%m/%y} {town}, {venue}", lambda _, song, said: song + (f" ({said})" if said else ""), [""], "\n\n\n"),
        "sets.txt",
    ),
    "Markdown": (
        sets(
            lambda day, town, venue: f"### {day:%B %-d, %Y}, {town}\n*{venue}*\n",
            lambda _, song, said: f"- {song}" + (f" _({said})_" if said else ""),
            ["\n**Encore**\n"],
        ),
        "sets.md",
    ),
}  # fmt: skip


def kept(found):
    """Everything that a reading says of each show."""
    plays = found.plays
    return [
        (show.date.date(), show.city, show.venue, [
            (play.song, bool(play.encore), play.remark) for play in plays[plays.show_id == show.show_id].itertuples()
        ])
        for show in found.shows.itertuples()
    ]  # fmt: skip


@pytest.mark.parametrize("form", KEPT)
def test_town_venue_encore_and_remarks_come_out_of_every_form(form):
    """
    Without a question; and a name that begins like a label ("Town Hall", "Live Loft") stays whole.
    """
    content, name = KEPT[form]
    found = read(Pasted(content, name))
    expected = [
        (day, town, venue, [(song, place >= ENCORE, SAID.get((at, place), "")) for place, song in enumerate(songs)])
        for at, (day, town, venue, songs) in enumerate(NIGHTS)
    ]

    assert [] == found.questions.key.tolist()
    assert expected == kept(found)


def test_strokes_part_the_encore_in_a_line_a_show():
    """
    Also where commas stand between the other songs; "&" at its end belongs to a title.
    """
    lines = [
        f"{day:%d.%m.%y} {town} ({venue}): {', '.join(songs[:ENCORE])} | {', '.join(songs[ENCORE:])}"
        for day, town, venue, songs in NIGHTS
    ]
    found = read(Pasted("\n".join(lines), "sets.txt"))

    assert [] == found.questions.key.tolist()
    assert [song for night in NIGHTS for song in night[3]] == found.plays.song.tolist()
    assert [at % 7 >= ENCORE for at in range(len(found.plays))] == found.plays.encore.tolist()


def test_sets_that_were_sent_after_midnight_are_those_of_the_evening_before_by_one_answer():
    """
    Which is asked once for all, and proposed; "enc Tin Moth / Zinc" holds two songs.
    """
    sent = [
        f"[{day + timedelta(days=1):%d/%m/%Y}, 01:1{at}:00] Corin: {town}, {venue}\n"
        + "\n".join(f"{place + 1} {song}" for place, song in enumerate(songs[:ENCORE]))
        + f"\nenc {' / '.join(songs[ENCORE:])}"
        for at, (day, town, venue, songs) in enumerate(NIGHTS)
    ]
    found = read(Pasted("\n".join(sent), "chat.txt"))

    assert ["after midnight"] == found.questions.key.tolist()
    assert [night[0] for night in NIGHTS] == found.shows.date.dt.date.tolist()
    assert [song for night in NIGHTS for song in night[3]] == found.plays.song.tolist()


def test_what_a_table_of_sets_says_of_its_songs_comes_out():
    """
    Tempo, length and who starts, where it is the same at every show; a column that songs do not have is named.
    """
    bpm = {song: 90 + 5 * at for at, song in enumerate(SONGS)}
    rows = [
        f"{day},{town},{place + 1},{song},{bpm[song]},3:{at}0,{song[0]},D"
        for at, (day, town, _, songs) in enumerate(NIGHTS)
        for place, song in enumerate(songs)
    ]
    found = read(Pasted("\n".join(["Date,City,Pos,Song,BPM,Length,Starts,Key", *rows]), "sets.csv"))

    assert [] == found.questions.key.tolist()
    assert bpm == dict(zip(found.rows.song, found.rows.tempo_bpm, strict=True))
    assert {song: song[0] for song in SONGS} == dict(zip(found.rows.song, found.rows.starts_by, strict=True))
    assert "minutes" not in found.rows  # another each night
    assert 'left out (rows 2, 3, 4, …): columns "Length" and "Key"' in "\n".join(found.said())


def test_what_is_said_of_songs_reaches_the_repertoire(tmp_path):
    """
    Only what it lacks is filled in.
    """
    rows = [f"{day},{town},{song},{90 + len(song)}" for day, town, _, songs in NIGHTS for song in songs]
    with opened(tmp_path / "tour.sqlite") as diary:
        diary.add_song("Tin Moth", tempo_bpm=132)
        added = intake(diary, Pasted("\n".join(["Date,City,Song,Tempo", *rows]), "sets.csv"))
        tempi = dict(diary.songs()[["song", "tempo_bpm"]].itertuples(index=False, name=None))

    assert len(SONGS) - 1 == added["filled in"]
    assert {song: 90 + len(song) for song in SONGS} | {"Tin Moth": 132} == tempi


@pytest.mark.parametrize("form", KEPT)
def test_the_same_file_again_asks_and_adds_nothing(form, tmp_path):
    """
    What is behind a title is no less a remark because the diary has the title by now.
    """
    content, name = KEPT[form]
    with opened(tmp_path / "tour.sqlite") as diary:
        intake(diary, Pasted(content, name))
        again = intake(diary, Pasted(content, name))

    assert {"already": len(NIGHTS)} == {what: count for what, count in again.items() if count}
