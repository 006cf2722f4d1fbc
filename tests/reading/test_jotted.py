"""What people write around and instead of songs: times and counts, short names, a song that was forgotten."""

import pytest

from tests.reading.test_beside_the_songs import DAYS, NIGHTS, numbered, sets
from tourstats.reading.sources import Pasted, read

SHOWS = [songs for *_, songs in NIGHTS]


def heading(day, town, _venue):
    """A day and its town."""
    return f"{day:%d.%m.%Y} {town}"


def bare(_place, song, _said):
    """Nothing but the song."""
    return song


def songs_of(found):
    """The songs of each show, in order."""
    return [list(some) for _, some in found.plays.sort_values(["show_id", "position"]).groupby("show_id").song]


def with_lines(above, below):
    """The nights without numbers, with lines above and below each set."""
    parts = sets(heading, bare, []).split("\n\n")
    return "\n\n".join(
        "\n".join([part.split("\n")[0], *above(at), *part.split("\n")[1:], *below(at)]) for at, part in enumerate(parts)
    )


def test_times_and_counts_around_the_sets_are_no_songs():
    """
    Without a question: a time of the day, a count that differs from show to show, money, a count with its name.
    """
    text = with_lines(
        lambda _: ["load-in 16:00", "doors 7 pm, on at 8"],
        lambda at: [f"{310 + 57 * at} people in", "Shirts 412.00", f"Songs: {len(SHOWS[at])}"],
    )
    found = read(Pasted(text, "sets.txt"))

    assert [] == found.questions.key.tolist()
    assert SHOWS == songs_of(found)


def test_a_number_in_every_show_that_tells_no_time_is_asked_about():
    """
    "Rain, 9 degrees" might be a song that opens them all: it is asked about, and proposed as a remark.
    """
    found = read(Pasted(with_lines(lambda _: ["Rain, 9 degrees"], lambda _: []), "sets.txt"))

    assert ["song: Rain, 9 degrees"] == found.questions.key.tolist()
    assert SHOWS == songs_of(found)


def test_a_title_with_a_clock_that_moves_is_a_song():
    """
    "Ferry at 18:40" is played in the middle of some sets.
    """
    shows = [[*songs[:2], "Ferry at 18:40", *songs[2:]] for songs in SHOWS]
    text = "\n\n".join(f"{day:%d.%m.%Y} Ostby\n" + "\n".join(songs) for day, songs in zip(DAYS, shows, strict=True))

    assert shows == songs_of(read(Pasted(text, "sets.txt")))


@pytest.mark.parametrize("legend", ["SBR = Salt Bell Row; AH = Ash Harrow", ""], ids=["explained", "first letters"])
def test_short_names_by_first_letters(legend):
    """
    By a line that explains them, else because one title alone begins so and stands in full elsewhere.
    """
    shows = [[*songs, "Salt Bell Row", "Ash Harrow"] for songs in SHOWS]
    written = [
        [{"Salt Bell Row": "SBR"}.get(song, song) if at else song for song in songs] for at, songs in enumerate(shows)
    ]
    text = "\n\n".join(
        f"{day:%d.%m.%Y} Ostby\n" + "\n".join(f"{at}. {song}" for at, song in enumerate(songs, 1))
        for day, songs in zip(DAYS, written, strict=True)
    )

    assert shows == songs_of(read(Pasted(f"{text}\n\n{legend}", "sets.txt")))


def test_a_song_that_was_forgotten_is_put_in_its_place_by_one_answer():
    """
    A line below the set names it and the song before it.
    """
    forgotten = SHOWS[2][3]
    text = sets(heading, numbered, []).replace(
        f"\n\n{DAYS[3]:%d.%m.%Y}", f"\nforgot to write: Ash Harrow, after {forgotten}\n\n{DAYS[3]:%d.%m.%Y}"
    )
    found = read(Pasted(text + "\n8. Ash Harrow", "sets.txt"))

    assert any(key.startswith("added: ") for key in found.questions.key)
    assert [*SHOWS[2][:4], "Ash Harrow", *SHOWS[2][4:]] == songs_of(found)[2]


@pytest.mark.parametrize("tail", [" 118 bpm", " @118", " \u2669=118", " (instead of Zinc & Harbour)"])
def test_a_tempo_and_a_song_that_was_replaced_are_said_of_a_title(tail):
    """
    Though the bare title stands nowhere else, and without a question.
    """
    shows = [["Salt Bell Row", *songs] for songs in SHOWS]
    text = "\n\n".join(
        f"{day:%d.%m.%Y} Ostby\n" + "\n".join(f"{at}. {song}" + tail * (at == 1) for at, song in enumerate(songs, 1))
        for day, songs in zip(DAYS, shows, strict=True)
    )
    found = read(Pasted(text, "sets.txt"))

    assert [] == found.questions.key.tolist()
    assert shows == songs_of(found)


def test_a_ditto_mark_means_the_show_before_whatever_columns_it_has():
    """
    Two columns a show, the song and what is said of it.
    """
    rows = [[f"{day:%d.%m.%Y} Ostby" for day in DAYS[:3]]]
    rows += [[SHOWS[0][at], '"', SHOWS[2][at]] if at < 2 else [songs[at] for songs in SHOWS[:3]] for at in range(7)]
    table = "\n".join(
        ",".join(f'"{cell.replace(chr(34), chr(34) * 2)}",' for cell in row).rstrip(",") + "," for row in rows
    )
    found = read(Pasted(table, "sets.csv"))

    assert [SHOWS[0], [*SHOWS[0][:2], *SHOWS[1][2:]], SHOWS[2]] == songs_of(found)


@pytest.mark.parametrize("turned", [False, True])
def test_days_of_a_sheet_of_which_the_first_has_a_year_go_on_from_it(turned):
    """
    Over New Year, in columns or in rows.
    """
    days = ["29.12.2031", "30.12.", "2.1.", "3.1."]
    rows = [[f"{day} Ostby", *songs] for day, songs in zip(days, SHOWS, strict=False)]
    table = rows if turned else zip(*rows, strict=True)
    found = read(Pasted("\n".join("\t".join(row) for row in table), "sets.tsv"))

    assert ["2031-12-29", "2031-12-30", "2032-01-02", "2032-01-03"] == found.shows.date.astype(str).tolist()
    assert SHOWS[:4] == songs_of(found)
