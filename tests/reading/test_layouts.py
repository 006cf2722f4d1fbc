"""How shows stand in files: logs of programs, tables within texts, a column or two a show."""

import io

import docx
import openpyxl
import pytest

from tourstats.reading.sources import Pasted, read

TITLES = ["Tin Moth", "Wet Banner", "Snail Post", "Oslebury Road", "Guest Towel", "Kettle, Kettle", "Loft Insulation"]
DAYS = ["2031-03-04", "2031-03-05", "2031-03-07", "2031-03-08", "2031-03-11"]
TOWNS = ["Oslebury", "Hessop", "Vantry", "Gorse Halt", "Mildew Bay"]
SETS_OF = [[TITLES[(show + at) % 7] for at in range(5)] for show in range(5)]
SHOWS = list(zip(DAYS, TOWNS, SETS_OF, strict=True))


def songs_in(form, name):
    """Songs and towns of each show, nothing being open."""
    found = read(Pasted(form, name))
    assert [] == found.questions.key.tolist()
    return [found.plays.song[found.plays.show_id == show].tolist() for show in found.shows.show_id], found


def workbook(rows):
    """A workbook of one sheet."""
    sheet = openpyxl.Workbook()
    for row in rows:
        sheet.active.append([cell or None for cell in row])
    sheet.save(data := io.BytesIO())
    return data.getvalue()


def short(day):
    """A day without its year."""
    return f"{int(day[8:])} March"


@pytest.mark.parametrize("stamp", ["{day}T2{hour}:1{at}:00", "[{day} 2{hour}:1{at}]"])
def test_lines_of_a_log_are_shows_of_the_kind_that_most_of_them_are(stamp):
    lines = []
    for day, town, songs in SHOWS:
        noted = [f"BEGIN {town}", "NOTE rain all day", *(f"CUE {song}" for song in songs), "END"]
        lines += [f"{stamp.format(day=day, hour=at // 5, at=at)} {line}" for at, line in enumerate(noted)]

    songs, found = songs_in("\n".join(lines), "desk.log")

    assert (SETS_OF, TOWNS) == (songs, found.shows.city.tolist())
    assert len(SHOWS) == found.account.why.eq("a comment").sum()


def test_shows_of_one_day_in_a_log_are_parted_by_their_pause():
    lines = []
    for (day, _, songs), hour in zip(SHOWS, (15, 20, 20, 20, 20), strict=True):
        lines += [f"{day if hour == 15 else DAYS[1]} {hour}:1{at}:00 {song}" for at, song in enumerate(songs)]

    found = read(Pasted("\n".join(lines[:5]).replace(DAYS[0], DAYS[1]) + "\n" + "\n".join(lines[5:10]), "played.txt"))

    assert [SETS_OF[0], SETS_OF[1]] == [some.song.tolist() for _, some in found.plays.groupby("show_id")]


def as_markdown():
    """A heading and a table a show."""
    parts = []
    for day, town, songs in SHOWS:
        rows = [f"| {at} | {song} |" for at, song in enumerate(songs, 1)]
        parts.append("\n".join([f"## {day}, {town}", "", "| Num | Pieza |", "|---|---|", *rows]))
    return "\n\n".join(parts)


def as_page():
    """The same as a page, with a line over both columns, and what is said above each table."""
    parts = ["<html><body>"]
    for day, town, songs in SHOWS:
        rows = [f"<tr><td>{at})</td><td>{song}</td></tr>" for at, song in enumerate(songs, 1)]
        rows.insert(2, '<tr><td colspan="2">Set 2</td></tr>')
        head = "<tr><th>Num</th><th>Pieza</th></tr>"
        parts.append(f"<h2>{day}, {town}</h2><p>Silvia drove</p><table>{head}{''.join(rows)}</table><p>home late</p>")
    return "\n".join(parts)


@pytest.mark.parametrize(("form", "name"), [(as_markdown(), "sets.md"), (as_page(), "sets.html")])
def test_a_table_a_show_below_its_day_is_read_without_its_numbers(form, name):
    songs, found = songs_in(form, name)

    assert (SETS_OF, DAYS) == (songs, found.shows.date.astype(str).tolist())


def test_days_between_the_tables_of_a_document_say_how_the_days_are_written():
    document = docx.Document()
    for day, town, songs in SHOWS:
        document.add_paragraph(f"{day[5:7]}/1{day[9:]}/31, {town}")
        table = document.add_table(0, 2)
        for at, song in enumerate(["", *songs]):
            cells = table.add_row().cells
            cells[0].text, cells[1].text = (f"{at:02}", song) if at else ("Num", "Pieza")
        joint = table.add_row().cells
        joint[0].merge(joint[1]).text = "Encore"
        cells = table.add_row().cells
        cells[0].text, cells[1].text = "06", TITLES[0] if TITLES[0] not in songs else TITLES[1]
    document.save(data := io.BytesIO())

    found = read(Pasted(data.getvalue(), "sets.docx"))

    assert [day[:8] + "1" + day[9:] for day in DAYS] == found.shows.date.astype(str).tolist()
    assert SETS_OF == [some.song.tolist()[:5] for _, some in found.plays.groupby("show_id")]


def test_a_column_a_show_may_have_days_without_a_year_with_their_towns():
    """They read like a text."""
    heads = [f"{short(day)} {town}" for day, town, _ in SHOWS]
    rows = [[f"{at}. {songs[at - 1]}" for *_, songs in SHOWS] for at in range(1, 6)]

    songs, found = songs_in(workbook([["Lanterns 2031"], heads, *rows]), "sets.xlsx")

    assert (SETS_OF, DAYS) == (songs, found.shows.date.astype(str).tolist())
    assert TOWNS == found.shows.city.tolist()


def test_a_ditto_mark_repeats_the_show_before_where_it_has_two_columns():
    heads = [cell for day, town, _ in SHOWS for cell in (f"{short(day)} {town}", "")]
    names = ["Piece", "Key"] * len(SHOWS)
    rows = [[cell for *_, songs in SHOWS for cell in (songs[at], "Bb")] for at in range(5)]
    rows.append([TITLES[6], "Em", '"', "Em", '"', "Em", '"', "Em", '"', "Em"])

    found = read(Pasted(workbook([["Lanterns 2031"], heads, names, *rows]), "sets.xlsx"))

    assert [TITLES[6]] * 5 == [some.song.tolist()[-1] for _, some in found.plays.groupby("show_id")]
    assert set(TITLES) == set(found.plays.song)


def test_the_first_song_of_a_cell_is_no_place_and_what_counts_the_sets_no_title():
    """The first songs were towns, and "Set 2: Guest Towel" a title."""
    openers = ["Salt Kite", "Ember Lane", "Two Ponds", "Nine Ferns", "Long Quay"]
    rows = ["date;city;pieces"]
    for opener, (day, town, songs) in zip(openers, SHOWS, strict=True):
        lines = [f"Set 1: {opener}", *songs[:3], f"Set 2: {songs[3]}", songs[4]]
        rows.append(f'{day};{town};"' + "\n".join(lines) + '"')

    found = read(Pasted("\n".join(rows), "tour.csv"))

    expected = [[opener, *songs] for opener, songs in zip(openers, SETS_OF, strict=True)]
    assert expected == [some.song.tolist() for _, some in found.plays.groupby("show_id")]
    assert TOWNS == found.shows.city.tolist()


def test_the_name_of_a_file_alone_makes_no_table_of_notes_of_sets():
    rows = [["date", "city", *map(str, range(1, 6))], *([day, town, *songs] for day, town, songs in SHOWS)]

    songs, _ = songs_in(workbook(rows), "notes.xlsx")

    assert SETS_OF == songs
