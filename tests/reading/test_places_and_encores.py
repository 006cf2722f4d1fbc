"""Town, venue and encore of every show, whatever they are called: by what stands in one place of every show."""

# ruff: noqa: E501  # a file typed in one line is read in one piece

import io
import json

import docx
import pytest

from tourstats.reading.encores import at_the_ends
from tourstats.reading.sources import Pasted, read

SHOWS = [
    ("2031-03-04", "Ostby", "Salt Hall", ["Ferry", "Copper Wire", "Tin Moth", "Quill", "Zinc Parade", "Marl"], 5),
    ("2031-03-05", "Oxmere", "The Kiln", ["Tin Moth", "Ferry", "Zinc Parade", "Marl", "Copper Wire", "Quill"], 5),
    ("2031-03-07", "Brackwater", "Drill Hall", ["Quill", "Marl", "Ferry", "Copper Wire", "Tin Moth", "Wren", "Ferry Two"], 5),
    ("2031-03-08", "Millquern", "Corn Loft", ["Marl", "Tin Moth", "Quill", "Wren", "Copper Wire", "Zinc Parade"], 5),
]  # fmt: skip


def blocks(head, line, before="", late=None):
    """Text of the shows: a heading, a line a song, and something above or before the songs of the encore."""
    texts = []
    for day, town, venue, songs, encore in SHOWS:
        lines = [line.format(at=at, song=song) for at, song in enumerate(songs, 1)]
        ends = [(late or line).format(at=at, song=song) for at, song in enumerate(songs, 1)][encore:]
        heading = head.format(day=day, town=town, venue=venue)
        texts.append("\n".join([heading, *lines[:encore], *filter(None, [before]), *ends]))
    return "\n\n".join(texts)


def table(names, cells):
    """A table with a row a song, the place of the encore's songs called otherwise."""
    rows = [names]
    for day, town, venue, songs, encore in SHOWS:
        for at, song in enumerate(songs):
            place = at + 1 if at < encore else "tak"
            rows.append(cells.format(day=day, town=town, venue=venue, at=place, song=song))
    return "\n".join(rows)


def cells(names, row):
    """A table with a row a show, the set in one cell."""
    sets = [(day, town, venue, " / ".join(songs[:at]), " / ".join(songs[at:])) for day, town, venue, songs, at in SHOWS]
    return "\n".join([names, *(row.format(day=d, town=t, venue=v, main=m, late=e) for d, t, v, m, e in sets)])


def notes():
    """Export of a program for notes: each with its text, and a shopping list between."""
    texts = blocks("{town}, {venue}, {day}", "{at}. {song}", "Encore").split("\n\n")
    kept = [{"content": text, "created": "2032-01-01T10:00:00Z"} for text in [*texts[:2], "milk\noil\nbread\nsoap", *texts[2:]]]  # fmt: skip
    return json.dumps({"activeNotes": kept})


def page():
    """A page with a row a show, the set as lists in its last cell."""
    rows = [
        f"<tr><td>{day}</td><td>{town}</td><td>{venue}</td><td><ol>{''.join(f'<li>{song}</li>' for song in songs[:at])}</ol>"
        f"<p><b>Encore</b></p><ol>{''.join(f'<li>{song}</li>' for song in songs[at:])}</ol></td></tr>"
        for day, town, venue, songs, at in SHOWS
    ]
    return f"<html><table><tr><th>Date</th><th>City</th><th>Venue</th><th>Set</th></tr>{''.join(rows)}</table></html>"


def messages():
    """A log with names in angles and what the program says behind stars."""
    lines = []
    for day, town, venue, songs, at in SHOWS:
        said = [f"{town}, {venue}", *songs[:at], *(f"encore: {song}" for song in songs[at:])]
        lines += [
            f"[{day} 22:40:00] * odile has joined #sets",
            *(f"[{day} 22:41:{n:02}] <odile> {text}" for n, text in enumerate(said)),
        ]
    return "\n".join([*lines, "[2031-03-08 22:59:00] <bram> lol"])


def counts():
    """A column a show, with how many songs it had below."""
    columns = [[town, venue, day, *songs[:at], "ENCORE", *songs[at:]] for day, town, venue, songs, at in SHOWS]
    tall = max(map(len, columns))
    full = [[*column, *[""] * (tall - len(column)), "", f"{len(column) - 4} songs"] for column in columns]
    return "\n".join(";".join(row) for row in zip(*full, strict=True))


FORMS = {
    "lists within the cells of a page": page(),
    "names in angles": messages(),
    "how many songs there were": counts(),
    "a sign in a column of places": table("date;town;Lokal;pos;song", "{day};{town};{venue};{at};{song}"),
    "rooms that are venues": table("date;city;room;pos;song", "{day};{town};{venue};{at};{song}"),
    "place beside town": table("date;place;town;pos;song", "{day};{venue};{town};{at};{song}"),
    "names of columns in another language": cells("Quando;Onde;Alinhamento;Encore", "{day};{venue}, {town};{main};{late}"),
    "a heading that nobody knows": blocks("{day}, {town}, {venue}", "{at}. {song}", "Dokładka:"),
    "a sign before the title": blocks("{day} | {town} | {venue}", "{song}", late="+ {song}"),
    "a letter behind the title": blocks("{town} ({venue}) {day}", "{song}", late="{song} (E)"),
    "a rule": blocks("{day} {town}, {venue}", "{at}. {song}", "* * *"),
    "a stamp above": blocks("[{day} 23:11] Odile Marr\n{town}, {venue}", "{song}", "Encore:"),
    "a page": blocks("{town}, {venue}, {day}\nPosted on 1 May 2031 by Odile\nWhat a night. We played:", "{song}", "Encore:"),
    "notes": notes(),
}  # fmt: skip


@pytest.mark.parametrize("form", FORMS.values(), ids=FORMS.keys())
def test_places_and_encores_are_known_by_where_they_stand(form):
    """
    Nothing is asked, and no town, venue or encore is lost or taken for another.
    """
    found = read(Pasted(form, {"{": "sets.json", "<": "sets.html"}.get(form[0], "sets.txt")))

    assert [] == found.questions.key.tolist()
    assert [(town, venue) for _, town, venue, _, _ in SHOWS] == list(
        found.shows[["city", "venue"]].itertuples(index=False, name=None)
    )
    assert [[at >= encore for at in range(len(songs))] for *_, songs, encore in SHOWS] == [
        some.encore.tolist() for _, some in found.plays.groupby("show_id")
    ]


@pytest.mark.parametrize("column", ["Driver", "Support"])
def test_a_column_of_names_is_no_venue(column):
    """
    Where nothing says that a column holds places, none is written.
    """
    names = {town: name for (_, town, *_), name in zip(SHOWS, ("Ann", "Bo", "Cleo", "Dov"), strict=True)}
    rows = [f"{d};{t};{names[t]};{at};{song}" for d, t, _, songs, _ in SHOWS for at, song in enumerate(songs, 1)]
    found = read(Pasted("\n".join([f"date;town;{column};pos;song", *rows]), "sets.csv"))

    assert found.shows.venue.isna().all()


def test_two_shows_side_by_side_in_a_document_are_two():
    """
    Each cell of its table is a show; and a month in Roman figures, a weekday before the town.
    """
    texts = [
        f"Freitag, {town}, {venue}\n{int(day[-2:])}-III-2031\n"
        + "\n".join(f"{at}. {song}" for at, song in enumerate(songs, 1))
        for day, town, venue, songs, _ in SHOWS
    ]
    document = docx.Document()
    grid = document.add_table(rows=2, cols=2)
    for at, text in enumerate(texts):
        grid.cell(at // 2, at % 2).text = text
    document.save(data := io.BytesIO())
    found = read(Pasted(data.getvalue(), "sets.docx"))

    assert [(day, town) for day, town, *_ in SHOWS] == [
        (f"{date:%Y-%m-%d}", city) for date, city in zip(found.shows.date, found.shows.city, strict=True)
    ]
    assert [songs for *_, songs, _ in SHOWS] == [some.song.tolist() for _, some in found.plays.groupby("show_id")]


def test_a_last_part_is_no_encore():
    """
    A third set, and a mark that stands elsewhere too, say nothing of encores.
    """
    songs = ["Ferry", "Quill", "Wren", "Marl", "Zinc"]
    for marks in (["1", "1", "2", "2", "3"], ["", "x", "", "", "x"]):
        assert set() == at_the_ends(
            [list(zip(songs, marks, strict=True)), list(zip(songs[::-1], marks, strict=True))] * 2
        )


def test_what_goes_with_the_closing_song_is_no_encore():
    """
    It ends every show, in a key that no other song has.
    """
    shows = [["Ferry", "Quill", "Wren"], ["Quill", "Ferry", "Wren"], ["Marl", "Ferry", "Wren"]]

    assert set() == at_the_ends([[(song, "Bb" if song == "Wren" else "G") for song in songs] for songs in shows])


def test_a_line_that_stands_in_one_place_of_every_show_is_no_song_unasked():
    """
    How full it was is said below the venue, and comes again as songs do; songs move from place to place.
    """
    full = ("Sold out", "Half full", "Sold out", "Half full")
    texts = [f"{day}, {town}\n{venue}\n{said}\n" + "\n".join(songs) for (day, town, venue, songs, _), said in zip(SHOWS, full, strict=True)]  # fmt: skip
    found = read(Pasted("\n\n".join(texts), "sets.txt"))

    assert ["row: Sold out"] == found.questions.key.tolist()


def test_a_word_before_the_last_titles_is_the_encores_and_counts_below_a_grid_are_no_places_of_songs():
    """
    Titles of a column a show stand elsewhere without the word; rows of counts below are no songs down the side.
    """
    columns = [
        [day, town, *songs[:at], *(f"EXTRA: {song}" for song in songs[at:]), *[""] * (7 - len(songs)), str(len(songs))]
        for day, town, _, songs, at in SHOWS
    ]
    names = ["Datum", "Stad", *map(str, range(1, 8)), "Antal"]
    text = "\n".join(";".join(row) for row in zip(names, *columns, strict=True))
    found = read(Pasted(text, "sets.csv"))

    assert not len(found.questions)
    assert [songs for *_, songs, _ in SHOWS] == [some.song.tolist() for _, some in found.plays.groupby("show_id")]
    assert [len(songs) - at for *_, songs, at in SHOWS] == found.plays.groupby("show_id").encore.sum().tolist()


@pytest.mark.parametrize("crew", ["Fonico: Dino", "Driver: Ada"])
def test_who_was_with_the_band_is_no_encore(crew):
    """
    Below numbered songs stands a word with a colon, and no title.
    """
    found = read(Pasted(blocks("{town}, {venue}, {day}", "{at}. {song}").replace("\n\n", f"\n{crew}\n\n"), "sets.txt"))

    assert not found.plays.encore.any()
    assert not found.plays.song.isin(["Dino", "Ada"]).any()


def test_of_two_columns_that_read_like_venues_the_one_of_that_name_is():
    """
    "Plaza" is where the trade says town.
    """
    text = table("Fecha;Plaza;Sala;Orden;Canción", "{day};{town};{venue};{at};{song}")
    found = read(Pasted(text.replace(";tak;", ";6;"), "sets.csv"))

    assert [town for _, town, *_ in SHOWS] == found.shows.city.tolist()
    assert [venue for *_, venue, _, _ in SHOWS] == found.shows.venue.tolist()


def test_a_mark_in_a_column_of_its_own_beside_the_last_songs_is_the_encores():
    """
    The same song ends every show; nothing else stands in the column, and a total stands below.
    """
    rows = [
        f"{day};{town};{at};{song};{'Z' if song == 'Last Boat' else ''}"
        for day, town, _, songs, _ in SHOWS
        for at, song in enumerate([*songs, "Last Boat"], 1)
    ]
    found = read(Pasted("\n".join(["tag;ort;nr;lied;Z", *rows, f"Summe;;{len(rows)};Lieder;4"]), "sets.csv"))

    assert not len(found.questions)
    assert {"Last Boat"} == set(found.plays.song[found.plays.encore])


def test_who_drove_is_no_city_and_words_in_brackets_tell_two_shows_of_a_day_apart():
    """
    A frame of words with names that come again is said of the show; no house stands beside the day.
    """
    drivers = ["Odile", "Bo", "Odile", "Bo", "Odile"]
    days = [("03.05.2031", "Ostby"), ("04.05.2031", "(afternoon) Lenkau"), ("04.05.2031", "(night) Lenkau"), ("06.05.2031", "Oxmere"), ("07.05.2031", "Varn")]  # fmt: skip
    titles = ["Salt Lantern", "Tin Moth", "Quill", "Marl Fair", "Copper Wire", "Zinc"]
    sets = [[titles[(at + step) % 6] for step in range(5)] for at in range(5)]
    text = "\n\n".join(
        "\n".join([f"{day} {town}", f"{driver} drove", *(f"{at}. {song}" for at, song in enumerate(songs, start=1))])
        for (day, town), driver, songs in zip(days, drivers, sets, strict=True)
    )
    found = read(Pasted(text, "sets.txt"))

    assert ["Ostby", "Lenkau", "Lenkau", "Oxmere", "Varn"] == found.shows.city.tolist()
    assert [1, 1, 2, 1, 1] == found.shows.number.tolist()
    assert [song for songs in sets for song in songs] == found.plays.song.tolist()
