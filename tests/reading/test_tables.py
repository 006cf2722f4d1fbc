"""Tables as strangers keep them: which cells are songs is told by what stands in them, and asked where it is not."""

import io
import json

import openpyxl
import pytest

from tourstats.reading.files import Source
from tourstats.reading.sources import SETS, Pasted, read
from tourstats.reading.workbooks import Sheet

TITLES = ["Tin Moth", "Wet Banner", "Snail Post", "Oslebury Road", "Guest Towel", "Kettle, Kettle", "Loft Insulation"]
DAYS = ["2031-03-04", "2031-03-05", "2031-03-07", "2031-03-08", "2031-03-11"]
DAYS_CZ = ["st", "čt", "pá", "so", "ne"]
TOWNS = ["Oslebury", "Hessop", "Vantry", "Gorse Halt", "Mildew Bay"]
SETS_OF = [[TITLES[(show + at) % 7] for at in range(5)] for show in range(5)]


def table(rows):
    """Rows as a text with tabs."""
    return "\n".join("\t".join(map(str, row)) for row in rows)


def long(head, *, beside=lambda _, __: []):
    """A row a song, with what stands beside each."""
    rows = [
        [day, town, at, song, *beside(at, show)]
        for show, (day, town, songs) in enumerate(zip(DAYS, TOWNS, SETS_OF, strict=True))
        for at, song in enumerate(songs, 1)
    ]
    return table([["date", "city", "no", "song", *head], *rows])


def sets_of(text, name="table.txt", **options):
    """Sets that were read, each once nothing is open."""
    found = read(Pasted(text, name), **options)
    assert SETS == found.kind
    assert [] == found.questions.key.tolist()
    return [found.plays.song[found.plays.show_id == show].tolist() for show in found.shows.show_id], found


def test_one_of_two_words_that_ends_the_shows_is_the_encore():
    """
    In whatever language: "tak" of "nie" and "tak".
    """
    songs, found = sets_of(long(["Bis"], beside=lambda at, _: ["tak" if at > 4 else "nie"]))

    assert SETS_OF == songs
    assert {5} == set(found.plays.position[found.plays.encore])


def test_a_show_that_its_rows_call_cancelled_was_not_played():
    """
    Whatever was planned for it.
    """
    songs, _ = sets_of(long(["status"], beside=lambda _, show: ["cancelled" if show == 2 else "played"]))

    assert SETS_OF[:2] + SETS_OF[3:] == songs


def test_a_list_of_how_often_each_was_played_is_no_show():
    """
    It stands below the shows, without a day, and its numbers count what stands above.
    """
    counts = [(song, sum(song in songs for songs in SETS_OF)) for song in TITLES]
    rows = [[DAYS[show] if at == 1 else "", at, song] for show in range(5) for at, song in enumerate(SETS_OF[show], 1)]
    text = table([["date", "no", "song", "times"], *rows, *(["", "", song, times] for song, times in counts)])

    assert SETS_OF == sets_of(text)[0]


def test_a_column_that_shares_nothing_with_the_songs_is_none():
    """
    Neither the weekday, nor tempi between the songs, nor who mixed.
    """
    head = ["date", "day", "city", *(name for at in range(1, 6) for name in (f"Song {at}", "bpm")), "sound"]
    rows = [
        [DAYS[show], ["Tue", "Wed", "Fri", "Sat", "Tue"][show], TOWNS[show],
         *(cell for at, song in enumerate(SETS_OF[show]) for cell in (song, 90 + 7 * at)), ["Wim", "Ada"][show % 2]]
        for show in range(5)
    ]  # fmt: skip
    songs, found = sets_of(table([head, *rows]))

    assert SETS_OF == songs
    assert TOWNS == found.shows.city.tolist()


def test_places_of_songs_with_totals_and_days_without_a_year():
    """
    The year stands in a corner, the totals below and at the right.
    """
    days = [f"{day[8:]}.{day[5:7]}." for day in DAYS]
    rows = [
        [song, *(songs.index(song) + 1 if song in songs else "" for songs in SETS_OF), sum(song in s for s in SETS_OF)]
        for song in TITLES
    ]
    text = table([["", *days, "played"], ["2031", *TOWNS, ""], *rows, ["songs in all", *[5] * 5, ""]])
    songs, found = sets_of(text)

    assert SETS_OF == songs
    assert DAYS == [f"{day:%Y-%m-%d}" for day in found.shows.date]


def test_codes_are_read_as_the_titles_that_the_file_gives_them():
    """
    A list of codes stands beside the shows.
    """
    codes = {song: f"S{at:02}" for at, song in enumerate(TITLES, 1)}
    shows = [[DAYS[at], TOWNS[at], " ".join(codes[song] for song in SETS_OF[at])] for at in range(5)] + [
        ["", "", ""]
    ] * 2
    text = table([*show, "", codes[song], song] for show, song in zip(shows, TITLES, strict=True))

    assert SETS_OF == sets_of(text)[0]


@pytest.mark.parametrize("sign", ["″", "ditto"])
def test_a_ditto_mark_is_the_song_of_the_show_before(sign):
    """
    Below a row of days it repeats what stands left of it.
    """
    rows = [[songs[at] for songs in SETS_OF] for at in range(5)]
    rows[0][2], rows[1][2] = rows[0][1], rows[1][1]
    meant = [[row[show] for row in rows] for show in range(5)]
    typed = [[sign if show == 2 and at < 2 else row[show] for show in range(5)] for at, row in enumerate(rows)]
    found = read(Pasted(table([DAYS, TOWNS, *typed]), "table.txt"))

    assert meant == [found.plays.song[found.plays.show_id == show].tolist() for show in found.shows.show_id]


def test_a_time_behind_one_title_alone_belongs_to_it():
    """
    A title loses a running time only where others have one too.
    """
    text = long([]).replace("Wet Banner", "Wet Banner 4:44")

    assert [[song.replace("Wet Banner", "Wet Banner 4:44") for song in songs] for songs in SETS_OF] == sets_of(text)[0]


def test_a_table_of_songs_in_which_titles_come_again_is_no_repertoire():
    """
    Keys and tempi beside the titles of each show make no list of songs of it.
    """
    rows = []
    for show in range(5):
        rows += [[f"{DAYS[show]} {TOWNS[show]}"], ["#", "Title", "Key", "BPM"]]
        rows += [[at, song, "Dm", 80 + at] for at, song in enumerate(SETS_OF[show], 1)] + [[]]

    assert SETS_OF == sets_of(table(rows))[0]


def test_a_show_whose_day_is_missing_among_columns_or_rows_is_asked_for_it():
    """
    Its songs are those of the others: it is neither left out nor lent the day of the show before.
    """
    days = [DAYS[0], "", DAYS[2], "#REF!", DAYS[4]]
    across = [
        ["when", *days],
        ["town", *TOWNS],
        *([at, *songs] for at, songs in enumerate(zip(*SETS_OF, strict=True), 1)),
    ]
    down = [list(row) for row in zip(*across, strict=True)]
    ticked = [["", *days], *([song, *("x" if song in songs else "" for songs in SETS_OF)] for song in TITLES)]
    for rows, key in ((across, "date: column C"), (down, "date: row 3"), (ticked, "date: column C")):
        text = table(rows)
        assert {key, "date: #REF!"} <= {*read(Pasted(text, "table.txt")).questions.key}

        answers = {key: DAYS[1], "date: #REF!": DAYS[3], "order": "yes"}
        found = read(Pasted(text, "table.txt"), answers=answers)

        assert [] == found.questions.key.tolist()
        assert DAYS == found.shows.date.astype(str).tolist()
        assert [5] * 5 == found.plays.groupby("show_id").size().tolist()


@pytest.mark.parametrize("head", [["s1", "s2", "s3", "enc", "enc"], ["lied"] * 5, ["1", "2", "3", "4", "Zugabe"]])
def test_a_row_a_show_may_have_its_songs_under_one_name_and_its_days_as_numbers(head):
    """
    Wherever the column of the days stands: 48158 is a day where such numbers go forward.
    """
    serials = [47911, 47912, 47914, 47915, 47918]
    first = [
        ["data", "miasto", *head],
        *([day, town, *songs] for day, town, songs in zip(serials, TOWNS, SETS_OF, strict=True)),
    ]
    last = [[*row[2:], *row[:2]] for row in first]
    for rows in (first, last):
        songs, found = sets_of(table(rows))

        assert SETS_OF == songs
        assert ["2031-03-04", "2031-03-05"] == found.shows.date.astype(str).tolist()[:2]
        assert TOWNS == found.shows.city.tolist()


def test_tables_of_a_workbook_that_point_at_each_other_are_one():
    """
    Shows and songs by their keys, in whatever order and language; each cell stays in the account.
    """
    shows = [
        ["keikka", "pvm", "paikka"],
        *([f"K{at}", day, town] for at, (day, town) in enumerate(zip(DAYS, TOWNS, strict=True))),
    ]
    works = [["code", "title"], *([f"W{at:02}", song] for at, song in enumerate(TITLES))]
    played = [
        ["keikka", "nro", "code"],
        *(
            [f"K{show}", at, f"W{TITLES.index(song):02}"]
            for show, songs in enumerate(SETS_OF)
            for at, song in enumerate(songs, 1)
        ),
    ]
    sheets = {"Played": played, "Gigs": shows, "Works": works}
    source = Source(
        "book.xlsx",
        [
            Sheet(
                name,
                {
                    (r, c): float(v) if isinstance(v, int) else v
                    for r, row in enumerate(rows, 1)
                    for c, v in enumerate(row, 1)
                },
            )
            for name, rows in sheets.items()
        ],
    )
    found = read(source)

    assert [] == found.questions.key.tolist()
    assert SETS_OF == [found.plays.song[found.plays.show_id == show].tolist() for show in found.shows.show_id]
    assert TOWNS == found.shows.city.tolist()
    assert {(one.name, *at) for one in source.sheets for at in one.cells} == {
        *zip(found.account.sheet, found.account.row, found.account.column, strict=True)
    }


@pytest.mark.parametrize(
    ("head", "words"), [("wanneer", ("middag 15:00", "avond 21:00")), ("pora", ("dzień", "noc")), ("", ("A", "B"))]
)
@pytest.mark.parametrize("numbered", [True, False])
def test_two_shows_of_a_day_that_a_column_keeps_apart_hold_the_same_songs(head, words, numbered):
    """
    Two sets of one evening do not: no question is needed.
    """
    rows = [
        [DAYS[at // 2], TOWNS[at // 2], words[at % 2], place if numbered else "-", song]
        for at in range(4)
        for place, song in enumerate(SETS_OF[at], 1)
    ]
    songs, found = sets_of(table([["datum", "plaats", head, "nr", "titel"], *rows]))

    assert SETS_OF[:4] == songs
    assert [1, 2, 1, 2] == found.shows.number.tolist()


def test_entries_of_another_type_without_a_place_are_no_songs_nor_is_a_sound_check():
    """
    Whatever the program calls them; an encore that is true or false is one.
    """

    def entry(place, title, kind="tune"):
        return {"nr": place, "kind": kind, "title": title, "encore": place == 5}

    shows = [
        {
            "day": day,
            "in": {"town": town},
            "soundcheck": [songs[1]],
            "entries": [
                entry(1, songs[0]),
                entry(None, "Thank the bar", "words"),
                *(entry(at, song) for at, song in enumerate(songs[1:], 2)),
            ],
        }
        for day, town, songs in zip(DAYS, TOWNS, SETS_OF, strict=True)
    ]
    songs, found = sets_of(json.dumps({"program": "any", "shows": shows}))

    assert SETS_OF == songs
    assert {5} == set(found.plays.position[found.plays.encore])
    left = found.account[found.account.taken_as == "left out"].as_typed.value_counts()
    assert 5 == left["Thank the bar"] == left.reindex(TITLES).sum()


def test_entries_of_another_type_that_have_their_places_are_asked_about():
    shows = [
        {
            "day": day,
            "set": [{"type": "song", "title": song} for song in songs] + [{"type": "speech", "title": f"Thanks {day}"}],
        }
        for day, songs in zip(DAYS, SETS_OF, strict=True)
    ]

    assert "column type" in read(Pasted(json.dumps(shows), "shows.json")).questions.key.tolist()


@pytest.mark.parametrize(
    ("labels", "code"), [(("Termin", "Gemeinde"), "Z"), (("公演日", "地域"), "EN"), (("päivä", "kunta"), "Y ")]
)
def test_a_sheet_a_show_says_first_what_it_tells_and_then_that(labels, code):
    """
    In whatever language; what counts the last songs apart is no part of their titles, and what is said twice no song.
    """
    sheets = []
    for show, songs in enumerate(SETS_OF):
        rows = [
            [labels[0], DAYS[show]],
            [labels[1], TOWNS[show]],
            ["", ""],
            ["#", "Stück"],
            *([float(at), song] for at, song in enumerate(songs[:4], 1)),
            [f"{code}1", songs[4]],
        ]
        rows[5:5] = rows[7:7] = [["", "Ansage"]]
        sheets.append(
            Sheet(
                f"S{show}", {(r, c): value for r, row in enumerate(rows, 1) for c, value in enumerate(row, 1) if value}
            )
        )
    found = read(Source("book.xlsx", sheets))

    assert [] == found.questions.key.tolist()
    assert SETS_OF == [found.plays.song[found.plays.show_id == show].tolist() for show in found.shows.show_id]
    assert TOWNS == found.shows.city.tolist()
    assert {5} == set(found.plays.position[found.plays.encore])


def test_a_title_whose_row_has_marks_is_not_asked_about():
    titles = [*TITLES[:6], "Kuckuck und Co."]
    rows = [
        ["", *DAYS],
        *(
            [song, *(("x" if show == 2 else "") if song[0] == "K" and "." in song else "x" for show in range(5))]
            for song in titles
        ),
    ]

    assert ["order"] == read(Pasted(table(rows), "table.txt")).questions.key.tolist()


def test_small_words_behind_a_title_that_stands_bare_elsewhere_are_said_of_it():
    """
    Begun with a capital, or where the bare title never stands, they are asked about.
    """
    shows = [[*songs] for songs in SETS_OF]
    shows[1][0], shows[2][0] = "Wet Banner (half time ending)", "Snail Post - w/ Hanna on vox"
    text = table([["date", "song"], *([day, song] for day, songs in zip(DAYS, shows, strict=True) for song in songs)])

    assert SETS_OF == sets_of(text)[0]
    for tail, key in (
        ("(Quiet Start)", "tail: Wet Banner (Quiet Start)"),
        ("- acoustic", "tail: Gorse - acoustic"),
        ("in D", "tail: Gorse in D"),
    ):
        shows[1][0] = key.removeprefix("tail: ")
        rows = [["date", "song"], *([day, song] for day, songs in zip(DAYS, shows, strict=True) for song in songs)]

        assert [key] == read(Pasted(table(rows), "table.txt")).questions.key.tolist(), tail


def test_what_is_properly_written_is_the_title_though_a_slip_is_as_common():
    """
    A slip that is in no word list is taken; one that is a word of its own is asked about.
    """
    right = "Daddy's Defibrillator"
    names = [right, "Daddys Defribillator", right, "Daddys Defribillator", "Daddy's Defibrilator"]
    rows = [[day, song] for day, songs, own in zip(DAYS, SETS_OF, names, strict=True) for song in (*songs, own)]
    songs, _ = sets_of(table([["date", "song"], *rows]))

    assert [[*songs, right] for songs in SETS_OF] == songs

    fares = ["Thorough Fare", "Through Fare", "Thorough Fare", "Thorough Fare"]
    rows = [[day, song] for day, songs, own in zip(DAYS, SETS_OF, fares, strict=False) for song in (*songs, own)]
    assert ["title: Through Fare"] == read(Pasted(table([["date", "song"], *rows]), "table.txt")).questions.key.tolist()


def test_a_name_that_ends_within_a_word_or_is_written_small_may_be_short():
    shows = [[*songs, "Queue"] for songs in SETS_OF]
    shows[1][5], shows[2][0] = "Que", "snail"
    rows = [["date", "song"], *([day, song] for day, songs in zip(DAYS, shows, strict=True) for song in songs)]

    assert ["short names"] == read(Pasted(table(rows), "table.txt")).questions.key.tolist()


def test_names_of_columns_that_come_again_below_every_day_are_no_songs():
    """
    In a language that is not known, above numbers.
    """
    head = [cell for town in TOWNS for cell in (town, "", "", "")]
    days = [cell for day in DAYS for cell in (day, "", "", "")]
    names = ["#", "Tema", "Dur.", ""] * len(DAYS)
    longest = max(map(len, SETS_OF))
    rows = [
        [
            cell
            for songs in SETS_OF
            for cell in ((str(at + 1), songs[at], "3'30\"", "") if at < len(songs) else [""] * 4)
        ]
        for at in range(longest)
    ]
    sheet = openpyxl.Workbook()
    for row in (head, days, names, *rows):
        sheet.active.append([cell or None for cell in row])
    sheet.save(data := io.BytesIO())

    songs, _ = sets_of(data.getvalue(), "sets.xlsx")

    assert SETS_OF == songs


def test_columns_without_a_known_name_may_say_where():
    """
    They were left out in silence.
    """
    shows = enumerate(zip(DAYS, TOWNS, SETS_OF, strict=True))
    rows = [f'{day},{town},Salt Hall {at},"{"; ".join(songs)}"' for at, (day, town, songs) in shows]

    found = read(Pasted("\n".join(["Día,Pueblo,Sitio,Repertorio", *rows]), "sets.csv"))

    assert (["where"], TOWNS) == (found.questions.key.tolist(), found.shows.city.tolist())


def test_shows_that_are_counted_are_none_of_one_day():
    shows = enumerate(zip(DAYS, TOWNS, SETS_OF, strict=True), 1)
    columns = [[f"Show {at}", day, town, *songs] for at, (day, town, songs) in shows]
    names = ["", "Date", "Town", *["Set"] * len(SETS_OF[0])]

    _, found = sets_of("\n".join(";".join(line) for line in zip(names, *columns, strict=True)), "sets.csv")

    assert {1} == set(found.shows.number)


def test_notes_right_of_the_shows_with_a_column_between_are_no_songs():
    """
    One that stands at the last show is asked about, and so is a title.
    """
    grid = [DAYS, TOWNS, *([songs[at] for songs in SETS_OF] for at in range(5))]

    def beside(*cells):
        return table([*grid[:3], [*grid[3], *cells], *grid[4:]])

    assert SETS_OF == sets_of(beside("", "", "new shirts arrive on the 10th"))[0]
    for cells in (["new shirts arrive on the 10th"], ["", "", TITLES[0]]):
        assert "outside 4" in set(read(Pasted(beside(*cells), "grid.tsv")).questions.key)


def test_a_space_forgotten_beside_a_sign_makes_no_title_of_two():
    cells = [" | ".join(songs) for songs in SETS_OF]
    cells[3] = cells[3].replace(" | ", "|", 1)

    songs, _ = sets_of("\n".join(["date;town;songs", *map(";".join, zip(DAYS, TOWNS, cells, strict=True))]), "sets.csv")

    assert SETS_OF == songs


def test_an_encore_that_is_the_same_every_night_is_asked_about_no_more_than_other_songs():
    cells = [f"{' / '.join(songs)}//Tante Emma" for songs in SETS_OF]

    songs, found = sets_of("\n".join(map("\t".join, zip(DAYS, TOWNS, cells, strict=True))))

    assert [[*one, "Tante Emma"] for one in SETS_OF] == songs
    assert {6} == set(found.plays.position[found.plays.encore])


def test_rows_without_a_title_between_the_songs_are_not_asked_about_nor_is_a_title_that_its_own_number_tells():
    entries = [
        {
            "start": f"{day}T20:30:00",
            "town": town,
            "items": [
                *({"type": "song", "song": TITLES.index(song), "title": song} for song in songs[:3]),
                {"type": "talk", "text": "shirts"},
                *({"type": "song", "song": TITLES.index(song), "title": song} for song in songs[3:]),
            ],
        }
        for day, town, songs in zip(DAYS, TOWNS, SETS_OF, strict=True)
    ]
    repertoire = [{"id": at, "title": title} for at, title in enumerate(TITLES)]

    assert SETS_OF == sets_of(json.dumps({"songs": repertoire, "shows": entries}), "export.json")[0]


def test_a_column_of_venues_may_name_the_towns_too():
    rows = [
        f"{day}\tSalt Hall {at} - {town}\t{' / '.join(songs)}"
        for at, (day, town, songs) in enumerate(zip(DAYS, TOWNS, SETS_OF, strict=True))
    ]

    found = read(Pasted("\n".join(["Datum\tLokal\tLieder", *rows]), "sets.tsv"))

    assert TOWNS == found.shows.city.tolist()


def test_the_state_behind_a_town_is_no_town():
    """
    Where all are in one, it goes without saying.
    """
    for states, towns in (
        (
            ["TN", "KY", "OH", "WV", "VA"],
            ["Oslebury, TN", "Hessop, KY", "Vantry, OH", "Gorse Halt, WV", "Mildew Bay, VA"],
        ),
        (["TN"] * 5, TOWNS),
    ):
        heads = [f"{town}, {state} - {day}" for town, state, day in zip(TOWNS, states, DAYS, strict=True)]

        songs, found = sets_of(table([heads, *([songs[at] for songs in SETS_OF] for at in range(5))]), "grid.tsv")

        assert SETS_OF == songs
        assert towns == found.shows.city.tolist()


def test_the_word_for_the_encore_may_stand_in_the_place_of_a_number():
    """
    Such songs were left out in silence.
    """
    shows = [
        "\n".join(
            [
                f"{day} {town}",
                *(f"{at}\t{song}\tAm" for at, song in enumerate(songs, 1)),
                *(f"ráadás\t{song}\tC" for song in encores),
            ]
        )
        for day, town, songs, encores in zip(
            DAYS, TOWNS, SETS_OF, [["Zug", "Ab"], ["Ab", "Zug"], ["Zug", "Ab"], ["Ab", "Zug"], ["Ab"]], strict=True
        )
    ]
    found = read(Pasted("\n\n".join(shows), "sets.txt"))

    assert {"Zug", "Ab"} == set(found.plays.song[found.plays.encore])
    assert sum(map(len, SETS_OF)) + 9 == len(found.plays)


def test_every_song_of_parts_in_a_line_behind_its_town_is_read_or_asked_about():
    lines = []
    for show, (town, songs) in enumerate(zip(TOWNS, SETS_OF, strict=True)):
        one, other = (
            " - ".join(f"{at:02} {song} (Mira sings)" for at, song in enumerate(part, 1))
            for part in (songs[:3], songs[3:])
        )
        lines += [
            f"{DAYS_CZ[show]} {24 + show}. prosince 2031, {town} (SE): Část 1: {one} - Část 2: {other}",
            "   dveře 19:00",
        ]

    found = read(Pasted("\n".join(lines), "tour.txt"))

    every = sum(map(len, SETS_OF))
    assert every == len(found.plays) or any(key.startswith("swallowed") for key in found.questions.key)


def test_a_song_below_the_heading_of_a_part_is_no_town_and_what_stands_left_of_it_is_one():
    """
    The first songs of the shows were their towns.
    """
    rows = [
        [day, f"{town} - Salt Hall", "Part 1:", f"Opener {at}", *songs[:3], "Part 2:", *songs[3:]]
        for at, (day, town, songs) in enumerate(zip(DAYS, TOWNS, SETS_OF, strict=True))
    ]

    found = read(Pasted(table(rows), "sets.tsv"))

    assert TOWNS == found.shows.city.tolist()
    assert [f"Opener {at}" for at in range(5)] == found.plays.song[found.plays.position == 1].tolist()


def test_what_a_line_says_of_a_song_behind_signs_and_in_small_letters_below_is_no_song():
    blocks = [
        "\n".join(
            [f"{day} {town}", *songs[:3], f"{songs[3]} << dropped", "== E ==", songs[4], "slept at the inn behind it"]
        )
        for day, town, songs in zip(DAYS, TOWNS, SETS_OF, strict=True)
    ]

    found = read(Pasted("\n\n".join(blocks), "sets.txt"), answers={"row: slept at the inn behind it": "remarks"})

    assert [song for songs in SETS_OF for song in [*songs[:3], songs[4]]] == found.plays.song.tolist()
    assert {4} == set(found.plays.position[found.plays.encore])


def test_an_encore_of_two_songs_parted_otherwise_than_the_set_keeps_both():
    """
    The second was taken for something said of the first, and lost in silence.
    """
    blocks = [
        "\n".join([f"{day} {town}", " / ".join(songs), f"enc: {encore}"])
        for day, town, songs, encore in zip(
            DAYS, TOWNS, SETS_OF, ["Marl", "Marl, Tin Moth", "Marl", "Zinc", "Zinc"], strict=True
        )
    ]
    blocks[1] = blocks[1].replace(" / Tin Moth", "")

    songs, found = sets_of("\n\n".join(blocks), "sets.txt")

    assert ["Marl", "Tin Moth"] == songs[1][-2:]
    assert 6 == found.plays.encore.sum()
