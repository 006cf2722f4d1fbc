"""Histories of many shows: every form reads to the same shows, and what is doubtful is asked about at once."""

# ruff: noqa: E501  # a file typed in one line is read in one piece

from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tourstats.diary.book import opened
from tourstats.diary.intake import intake
from tourstats.diary.writing import HistoryProblem, write_history
from tourstats.problems import Problem
from tourstats.reading import sources
from tourstats.reading.asking import Asking
from tourstats.reading.days import day_in, settle
from tourstats.reading.letters import decoded
from tourstats.reading.sources import read_history

HISTORIES = Path(__file__).parent / "histories"
SONGS = ["Ferry", "Copper Wire", "1847", "Salt & Road", "Żółta Łódź", "Tin Rook", "Ember/Or", "7 Bells"]
SHOWS = [
    ("2031-03-04", "brackwater", ["Ferry", "Copper Wire", "1847", "Salt & Road", "Żółta Łódź"], 2),
    ("2031-03-05", "millquern", ["Copper Wire", "Tin Rook", "Ferry", "Ember/Or"], 0),
    ("2031-03-17", "oxhaven", ["7 Bells", "Ferry", "Tin Rook"], 1),
]


def read(tmp_path, text, songs=None, *, name="history.csv", encoding="utf-8", answers=None):
    path = tmp_path / name
    path.write_bytes(text.encode(encoding))
    return read_history(path, songs, answers=answers)


def as_sets(shows, plays):
    """Day, town, titles and size of the encore of each show."""
    found = []
    for show in shows.itertuples():
        mine = plays[plays.show_id == show.show_id]
        found.append((f"{show.date:%Y-%m-%d}", show.city.casefold(), mine.song.tolist(), int(mine.encore.sum())))
    return found


@pytest.mark.parametrize("path", sorted(HISTORIES.glob("*")), ids=lambda path: path.name)
def test_every_form_of_a_history_reads_the_same(path):
    """
    Long tables, grids both ways and text; four encodings, five separators, spreadsheets with one sheet or a sheet a show.
    """
    shows, plays, problems = read_history(path, SONGS)

    assert SHOWS == as_sets(shows, plays)
    assert [] == problems.key.tolist()
    assert [1, 2, 3] == shows.show_id.tolist()
    assert all(mine.position.tolist() == list(range(1, len(mine) + 1)) for _, mine in plays.groupby("show_id"))


@pytest.mark.parametrize(("place", "songs"), [("Brackwater;", SONGS), ("", SONGS), ("Brackwater;Tin Hall;", SONGS)])
def test_a_row_a_show_needs_no_column_names(tmp_path, place, songs):
    """
    A day, perhaps a town and a venue, then titles of the repertoire; nothing ends up in the name of a town.
    """
    text = f"2031-03-14;{place}Ferry;Tin Rook;Copper Wire;1847\n2031-03-15;{place}Tin Rook;Copper Wire;7 Bells\n"
    shows, plays, problems = read(tmp_path, text, songs)

    assert problems.empty
    assert ["Ferry", "Tin Rook", "Copper Wire", "1847", "Tin Rook", "Copper Wire", "7 Bells"] == plays.song.tolist()
    assert ([1, 1, 1, 1, 2, 2, 2], [1, 2, 3, 4, 1, 2, 3]) == (plays.show_id.tolist(), plays.position.tolist())
    assert ({"Brackwater"} if place else {None}) == {None if pd.isna(city) else city for city in shows.city}


def test_a_row_a_show_may_hold_the_set_in_one_cell_and_the_encore_in_another(tmp_path):
    """
    The songs of both are of the show, those of the column headed as an encore are of it, and the account counts songs.
    """
    text = (
        "Date;Where;Set;Encore\n"
        "1.11.2030;Varnholt, Turbine Hall;Ferry / Tin Rook / Copper Wire / 1847 / Quill;Half a Mile / Stone Bread\n"
        "3.11.2030;Ostby;Tin Rook / Ferry / Quill / 14 Doors / Copper Wire;Half a Mile\n"
        "15.11.2030;Lenkau, Assembly Hall;14 Doors / Quill / 1847 / Ferry;Stone Bread / Tin Rook\n"
    )
    (tmp_path / "sets.csv").write_text(text, encoding="utf-8")
    found = sources.read(tmp_path / "sets.csv")

    assert found.questions.empty
    assert [7, 6, 6] == found.plays.groupby("show_id").size().tolist()
    assert ["Half a Mile", "Stone Bread", "Half a Mile", "Stone Bread", "Tin Rook"] == found.plays.song[
        found.plays.encore
    ].tolist()
    assert ["Varnholt", "Ostby", "Lenkau"] == found.shows.city.tolist()
    assert ["Turbine Hall", "Assembly Hall"] == found.shows.venue.dropna().tolist()
    assert "19 places, 8 songs, 3 shows" == found.said()[0]


TITLES = ["Ferry", "Tin Rook", "Copper Wire", "Quill", "Stone Bread", "14 Doors", "Half a Mile"]
CHORUS = ["Ferry", "Tin Rook", "Copper Wire", "Stone Bread", "14 Doors", "Half a Mile"]
TABLES_A_MONTH = """# Shows 2030

## May
| Date | Where | Set | People |
|---|:-:|---|--:|
| Fri 3/5 | Turbine Hall, Varnholt | Ferry<br>Tin Rook<br>Copper Wire<br>1847<br>**Encore:** Quill | 140 |
| Sat 4/5 | Assembly Hall, Lenkau | Tin Rook<br>14 Doors<br>Ferry<br>Copper Wire<br>**Encore:** Stone Bread<br>Quill | ca. 90 |

## June
| Date | Where | Set | People |
|---|---|---|---|
| Fri 14/6 | Assembly Hall, Lenkau | Copper Wire<br>14 Doors<br>1847<br>Ferry<br>**Encore:** Quill | ? |
"""


def test_tables_in_markdown_are_tables_and_their_cells_are_lines():
    """
    One table a month, headings between them, several lines a cell, an encore under its word.
    """
    found = sources.read(sources.Pasted(TABLES_A_MONTH))

    assert found.questions.empty
    assert [5, 6, 5] == found.plays.groupby("show_id").size().tolist()
    assert ["Quill", "Stone Bread", "Quill", "Quill"] == found.plays.song[found.plays.encore].tolist()
    assert ["Varnholt", "Lenkau", "Lenkau"] == found.shows.city.tolist()


def test_what_stands_behind_most_titles_is_one_question():
    """
    Composers in brackets never come off their titles: whether they are remarks is asked once, and taken for remarks.
    """
    by = dict(
        zip(
            TITLES,
            ["(O. Fenn)", "(L. Quade)", "(arr. O. Fenn)", "(L. Quade)", "(O. Fenn)", "(L. Quade)", ""],
            strict=True,
        )
    )
    nights = [TITLES[:5], TITLES[2:], TITLES[1:6], TITLES]
    text = "\n\n".join(
        f"{day} May 2030, Ostby\n"
        + "\n".join(f"{at}. {title} {by[title]}".strip() for at, title in enumerate(night, 1))
        for day, night in zip((3, 4, 10, 11), nights, strict=True)
    )
    found = sources.read(sources.Pasted(text))

    assert ["tails: (O. Fenn)"] == found.questions.key.tolist()
    assert "6 of 7 titles have something behind them" in found.questions.problem[0]
    assert set(TITLES) == set(found.plays.song)
    assert "O. Fenn" in found.plays.remark.tolist()


def test_an_encore_without_numbers_below_a_rule_is_one(tmp_path):
    """
    Its titles stand in other sets with a number; "14 Doors" keeps its own, which does not go on from the set's.
    """
    nights = [(TITLES[:4], TITLES[4:6]), (TITLES[2:6], TITLES[:2]), (TITLES[1:5], [TITLES[6], TITLES[5]])]
    text = "\n\n".join(
        f"{day} May 2030, Ostby\n"
        + "\n".join(f"{at}. {title}" for at, title in enumerate(main, 1))
        + "\n---\n"
        + "\n".join(encore)
        for day, (main, encore) in zip((3, 4, 10), nights, strict=True)
    )
    found = sources.read(sources.Pasted(text))

    assert found.questions.empty
    assert [title for main, encore in nights for title in (*main, *encore)] == found.plays.song.tolist()
    assert ([False] * 4 + [True] * 2) * 3 == found.plays.encore.tolist()


def test_what_stands_in_brackets_below_sets_is_no_song():
    """
    Below one set it is a remark; below several it is asked about, and proposed as one.
    """
    text = "\n\n".join(
        f"{day} May 2030, Ostby\n" + "\n".join(night) + said
        for day, night, said in zip(
            (3, 4, 10, 11),
            (TITLES[:4], TITLES[2:], TITLES[:5], TITLES[1:6]),
            ("\n(rain)", "\n(great night!!)", "", "\n(rain)"),
            strict=True,
        )
    )
    found = sources.read(sources.Pasted(text))

    assert ["row: (rain)"] == found.questions.key.tolist()
    assert set(TITLES) == set(found.plays.song)


def test_parts_of_one_evening_in_rows_of_their_own_are_asked_about_once(tmp_path):
    """
    A row a part, an encore named beside its songs; told that they are shows of their own, each has a number.
    """
    text = (
        "Date;City;Part;Songs\n"
        "3.5.2030;Ostby;1;Ferry | Tin Rook | Copper Wire | Quill\n"
        "3.5.2030;Ostby;2;Stone Bread | 14 Doors | Half a Mile | 1847\n"
        "3.5.2030;Ostby;encore;Sable | Marrow | Tallow | Orrin\n"
        "9.5.2030;Lenkau;1;Quill | Ferry | 14 Doors | Tin Rook\n"
        "9.5.2030;Lenkau;2;Half a Mile | 1847 | Copper Wire | Stone Bread\n"
        "9.5.2030;Lenkau;encore;Marrow | Sable | Orrin | Tallow\n"
    )
    (tmp_path / "parts.csv").write_text(text, encoding="utf-8")
    found = sources.read(tmp_path / "parts.csv")
    apart = sources.read(tmp_path / "parts.csv", answers={"parts": "shows of their own"})

    assert ["parts"] == found.questions.key.tolist()
    assert [12, 12] == found.plays.groupby("show_id").size().tolist()
    assert ([False] * 8 + [True] * 4) * 2 == found.plays.encore.tolist()
    assert [1, 2, 3, 1, 2, 3] == apart.shows.number.tolist()


def test_weekdays_that_are_not_those_of_the_year_in_the_heading_are_asked_about():
    """
    Saturdays of 2022 under "Summer 2023": the year that they fit is proposed, and the heading's is the other answer.
    """
    text = "SUMMER 2023\n\n" + "\n\n".join(
        f"Saturday, {day}.6. - Ostby\n" + "\n".join(night)
        for day, night in zip((4, 11, 18), (TITLES[:5], TITLES[1:6], TITLES[2:]), strict=True)
    )
    found = sources.read(sources.Pasted(text))

    assert ["year"] == found.questions.key.tolist()
    assert "2022" == found.questions.proposal[0]
    assert [2022] * 3 == found.shows.date.dt.year.tolist()


def test_of_two_readings_that_are_as_good_the_one_with_more_songs_is_proposed():
    """
    A line a show cut at its commas loses the first song behind the city; both readings are shown, and this one proposed.
    """
    nights = [TITLES[:5], TITLES[2:], TITLES[1:6], TITLES[:6], TITLES[1:]]
    text = "\n".join(
        f"{day:02}.05.2030 {city}: {', '.join(night[:-1])} // {night[-1]}"
        for day, city, night in zip(
            (3, 4, 10, 11, 17), ("Ostby", "Lenkau", "Varn", "Ostby", "Tulve"), nights, strict=True
        )
    )
    found = sources.read(sources.Pasted(text))

    assert set(found.questions.key) <= {"shape", "together"}
    assert [title for night in nights for title in night] == found.plays.song.tolist()


def test_lines_that_name_the_city_and_the_venue_are_believed():
    """
    As notes with a head of names and values have them, in any order and language.
    """
    text = "\n\n".join(
        f"---\nfecha: 2030-05-0{day}\nciudad: {city}\nsala: {hall}\nsetlist:\n"
        + "\n".join(f"  - {one}" for one in night)
        + "\n---"
        for day, city, hall, night in (
            (3, "Ostby", "Percha", TITLES[:5]),
            (4, "Lenkau", "Casa Negra", TITLES[2:]),
            (9, "Varn", "Percha", TITLES[1:6]),
        )
    )
    found = sources.read(sources.Pasted(text))

    assert [*TITLES[:5], *TITLES[2:], *TITLES[1:6]] == found.plays.song.tolist()
    assert ["Ostby", "Lenkau", "Varn"] == found.shows.city.tolist()
    assert ["Percha", "Casa Negra", "Percha"] == found.shows.venue.tolist()


def test_an_encore_told_in_a_line_of_its_own_is_cut_where_one_of_its_songs_is_known():
    """
    "enc: Quill" under one set tells that "enc: Quill, Sable" under another are two songs.
    """
    encores = ("Quill, Sable", "Quill", "Sable, Quill")
    text = "\n\n".join(
        f"{day} May 2030, Ostby\n"
        + "\n".join(f"{at} {title}" for at, title in enumerate(night, 1))
        + f"\nenc: {encore}"
        for day, night, encore in zip((3, 4, 9), (CHORUS[:5], CHORUS[1:], CHORUS[:4]), encores, strict=True)
    )
    found = sources.read(sources.Pasted(text))

    assert found.questions.empty
    assert ["Quill", "Sable", "Quill", "Sable", "Quill"] == found.plays.song[found.plays.encore].tolist()


def test_titles_that_are_written_short_later_are_one_question():
    """
    "Copper" and "Half" are the beginnings of titles that stand in full on other days, "Bread" is the end of one; a word
    of two titles is asked about apart.
    """
    text = (
        "3 May 2030, Ostby\n1. Copper Wire\n2. Half a Mile\n3. Stone Bread\n4. Night Kettle\n5. Kettle Row\n\n"
        "4 May 2030, Lenkau\n1. Copper\n2. Bread\n3. Half\n4. Quill\n\n"
        "9 May 2030, Ostby\n1. Half\n2. Quill\n3. Kettle\n4. Copper\n"
    )
    found = sources.read(sources.Pasted(text))
    apart = sources.read(sources.Pasted(text), answers={"short names": "titles of their own"})

    assert ["short names", "short: Kettle"] == found.questions.key.tolist()
    assert ["Copper Wire", "Stone Bread", "Half a Mile", "Quill"] == found.plays.song[found.plays.show_id == 2].tolist()
    assert ["Copper", "Bread", "Half", "Quill"] == apart.plays.song[apart.plays.show_id == 2].tolist()


def test_songs_beyond_the_last_named_column_belong_to_the_show(tmp_path):
    """
    A row that is longer than the row of names loses nothing; behind the encore's column it is encore.
    """
    text = "date,town,Song 1,Song 2,Encore 1\n2031-03-14,Westhallow,Ferry,Tin Rook,Copper Wire,7 Bells\n2031-03-15,Oxmere,Ferry\n"
    shows, plays, problems = read(tmp_path, text)

    assert problems.empty
    assert [
        ("2031-03-14", "westhallow", ["Ferry", "Tin Rook", "Copper Wire", "7 Bells"], 2),
        ("2031-03-15", "oxmere", ["Ferry"], 0),
    ] == as_sets(shows, plays)


def test_shows_of_one_day_that_the_file_names_are_numbered_in_its_order(tmp_path):
    """
    A column of shows keeps two of one day and town apart, though neither has a number.
    """
    text = "show,date,town,song\nA,2031-03-14,Westhallow,Ferry\nA,2031-03-14,Westhallow,Tin Rook\nB,2031-03-14,Westhallow,Copper Wire\n"
    shows, plays, problems = read(tmp_path, text)

    assert ([1, 2], [1, 1, 2], True) == (shows.number.tolist(), plays.show_id.tolist(), problems.empty)


def test_a_day_that_can_be_read_two_ways_is_asked_about_once(tmp_path):
    """
    Nothing in the column tells day from month, so nothing is guessed; the answer settles all of it.
    """
    text = "date,city,song\n3/4/2031,Brackwater,Ferry\n5/4/2031,Millquern,Ferry\n"
    shows, _, problems = read(tmp_path, text)

    assert (["2031-04-03", "2031-04-05"], ["date order"]) == (
        [f"{day:%Y-%m-%d}" for day in shows.date],
        problems.key.tolist(),
    )
    assert (2, "A", "3/4/2031", True) == tuple(problems.loc[0, ["row", "column", "value", "blocking"]])
    assert "2031-04-03" == str(read(tmp_path, text, answers={"date order": "day first"})[0].date[0].date())
    assert "2031-03-04" == str(read(tmp_path, text, answers={"date order": "month first"})[0].date[0].date())


def test_one_day_over_twelve_tells_for_the_whole_column(tmp_path):
    """
    25/4 can only have the day first, so 3/4 has too; dots mean day first by custom; ISO is never turned round.
    """
    days = ["3/4/2031", "25/4/2031", "4.5.2031", "2031-06-07"]
    text = "date,city,song\n" + "\n".join(f"{one},Brackwater,Ferry" for one in days)
    shows, _, problems = read(tmp_path, text)

    assert ["2031-04-03", "2031-04-25", "2031-05-04", "2031-06-07"] == shows.date.dt.strftime("%Y-%m-%d").tolist()
    assert problems.empty


def test_a_year_comes_from_the_file_or_is_asked_for(tmp_path):
    """
    "Mar 4" alone has no year; a title row or the name of the file may give it.
    """
    text = "date,city,song\nMar 4,Brackwater,Ferry\n"

    assert ["year"] == read(tmp_path, text)[2].key.tolist()
    assert date(2031, 3, 4) == read(tmp_path, text, name="sets 2031.csv")[0].date[0].date()
    assert date(2032, 3, 4) == read(tmp_path, text, answers={"year": 2032})[0].date[0].date()


def test_all_problems_are_listed_at_once_with_their_places(tmp_path):
    """
    A day that is none, a title not sure, one not known: file, row, column, value and what to do for each.
    """
    text = "date;city;song\nsometime;Brackwater;Ferry\n4.3.2031;Millquern;Tin\n4.3.2031;Millquern;Brass Elephants\n"
    _, _, problems = read(tmp_path, text, ["Tin Rook", "Tin Kettle", "Ferry"])

    assert [
        ("date: sometime", "history.csv", 2, "A", "sometime", True),
        ("title: Tin", "history.csv", 3, "C", "Tin", True),
        ("title: Brass Elephants", "history.csv", 4, "C", "Brass Elephants", True),
    ] == list(problems[["key", "file", "row", "column", "value", "blocking"]].itertuples(index=False, name=None))
    assert [["Tin Rook", "Tin Kettle", "new", "skip"], ["new", "skip"]] == problems.candidates.tolist()[1:]
    assert 'Answer with the title, "new" for a new song, or "skip" to leave it out.' == problems.todo[1]


def test_answers_settle_titles(tmp_path):
    """
    A title, a new song, and one left out.
    """
    text = "date;city;song\n" + "".join(
        f"4.3.2031;Millquern;{song}\n" for song in ("Tin", "Brass Elephants", "Paper Moths")
    )
    answers = {"title: Tin": "Tin Rook", "title: Brass Elephants": "new", "title: Paper Moths": "skip"}
    _, plays, problems = read(tmp_path, text, ["Tin Rook", "Tin Kettle"], answers=answers)

    assert (["Tin Rook", "Brass Elephants"], True) == (plays.song.tolist(), problems.empty)


def test_titles_that_differ_in_spaces_and_case_are_one_song_and_slips_are_a_question(tmp_path):
    """
    "Salt Road" and "salt road " are one; that "Salt Raod" is too is proposed, and asked.
    """
    text = "date,city,song\n2031-03-04,A,Salt Road\n2031-03-05,A,salt road \n2031-03-06,A,Salt Raod\n"
    _, plays, problems = read(tmp_path, text)

    assert ["Salt Road", "Salt Road", "Salt Road"] == plays.song.tolist()
    assert [("title: Salt Raod", ["Salt Road", "new"], "Salt Road")] == list(
        problems[["key", "candidates", "proposal"]].itertuples(index=False, name=None)
    )
    assert {"Salt Road", "Salt Raod"} == set(read(tmp_path, text, answers={"title: Salt Raod": "new"})[1].song)


def test_the_same_block_twice_adds_nothing_and_two_that_differ_are_a_question(tmp_path):
    """
    A table pasted twice is one; a day and town with two different sets is asked about.
    """
    rows = "2031-03-04,A,1,Ferry\n2031-03-04,A,2,Tin Rook\n"
    head = "date,city,position,song\n"
    shows, plays, problems = read(tmp_path, head + rows + rows)
    assert (1, ["Ferry", "Tin Rook"], True) == (len(shows), plays.song.tolist(), problems.empty)

    other = "2031-03-04,A,1,Tin Rook\n2031-03-04,A,2,Ferry\n"
    _, _, problems = read(tmp_path, head + rows + other)
    assert ["two shows: 2031-03-04"] == problems.key.tolist()


def test_two_shows_on_one_day_are_two_only_if_numbered(tmp_path):
    """
    A column of numbers, or "show 2" in a heading.
    """
    shows, _, problems = read(tmp_path, "date,number,city,song\n2031-03-04,1,A,Ferry\n2031-03-04,2,A,Tin Rook\n")
    assert ([1, 2], True) == (shows.number.tolist(), problems.empty)

    text = "4 March 2031, Brackwater (show 1)\n1. Ferry\n\n4 March 2031, Brackwater (show 2)\n1. Tin Rook\n"
    shows, _, problems = read(tmp_path, text, name="sets.txt")
    assert (["Brackwater"] * 2, [1, 2], True) == (shows.city.tolist(), shows.number.tolist(), problems.empty)


def test_a_table_that_is_not_sorted_by_show_is_put_together(tmp_path):
    """
    Positions tell which rows belong together.
    """
    text = "date,city,position,song\n2031-03-04,A,1,Ferry\n2031-03-05,A,1,Ferry\n2031-03-04,A,2,Tin Rook\n"
    shows, plays, problems = read(tmp_path, text)

    assert ([("2031-03-04", "a", ["Ferry", "Tin Rook"], 0), ("2031-03-05", "a", ["Ferry"], 0)], True) == (
        as_sets(shows, plays),
        problems.empty,
    )


def test_ticks_say_which_songs_but_not_in_which_order(tmp_path):
    """
    The rows give the order, and the reader asks whether that is right.
    """
    text = "song,2031-03-04,2031-03-05\nFerry,x,\nTin Rook,x,x\nCopper Wire,,x\n"
    _, plays, problems = read(tmp_path, text)

    assert ["Ferry", "Tin Rook", "Tin Rook", "Copper Wire"] == plays.song.tolist()
    assert ["order"] == problems.key.tolist()


def test_songs_that_look_like_days_and_numbers_stay_songs(tmp_path):
    """
    A numeric title in a spreadsheet is text; "4 March" in the column of songs is a song.
    """
    _, plays, problems = read(tmp_path, "date,city,song\n2031-03-04,A,1847\n2031-03-04,A,4 March\n2031-03-04,A,22\n")

    assert (["1847", "4 March", "22"], True) == (plays.song.tolist(), problems.empty)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings_are_told_apart(encoding):
    """
    Marks, zero bytes, strict UTF-8, then Windows-1252.
    """
    text = "date;city;song\n4.3.2031;Brackwater;Café Noir\n"

    assert text == decoded(text.encode(encoding)).text


def test_a_file_without_shows_says_so(tmp_path):
    """
    Nothing found is a question, not silence.
    """
    _, _, problems = read(tmp_path, "hello\nworld\n", name="sets.txt")

    assert [("nothing", True)] == list(problems[["key", "blocking"]].itertuples(index=False, name=None))


def test_a_file_that_cannot_be_read_says_what_to_do(tmp_path):
    """
    The sentence names the file, the reason and a way out.
    """
    path = tmp_path / "sets.xlsx"
    path.write_bytes(b"PK\x03\x04 no spreadsheet")
    with pytest.raises(Problem, match=r"sets\.xlsx cannot be read: it is damaged"):
        read_history(path)
    with pytest.raises(Problem, match=r"There is no file .*gone\.csv\. Look at its name"):
        read_history(tmp_path / "gone.csv")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Fri 4 March 2031, Brackwater", date(2031, 3, 4)),
        ("March 4th, 2031", date(2031, 3, 4)),
        ("4. März 2031", date(2031, 3, 4)),
        ("4 mars 2031", date(2031, 3, 4)),
        ("2031-03-04T20:00:00", date(2031, 3, 4)),
        ("2031/3/4", date(2031, 3, 4)),
        ("4.3.31", date(2031, 3, 4)),
        ("31/3/2031", date(2031, 3, 31)),
    ],
)
def test_days_as_people_write_them(text, expected):
    """
    Each can be read one way only.
    """
    found = settle([day_in(text)], Asking()).of(day_in(text))

    assert expected == found


@pytest.mark.parametrize("text", ["1847", "Ferry 4", "7 Bells", "31.2.2031", "13/13/2031", "Copper Wire", "", None])
def test_what_is_no_day(text):
    """
    Titles with numbers, and days that no month has.
    """
    assert day_in(text) is None


@pytest.fixture
def diary(tmp_path):
    with opened(tmp_path / "tour.sqlite") as book:
        yield book


def test_reading_and_writing_the_same_file_twice_adds_nothing(diary):
    """
    The second time everything is there already; the diary holds what the file says.
    """
    path = HISTORIES / "long_iso.csv"
    assert {"shows": 3, "songs": 8, "sets": 3, "already": 0} == intake(diary, path)
    before = diary.plays()
    assert {"shows": 0, "songs": 0, "sets": 0, "already": 3} == intake(diary, path)
    assert {"shows": 0, "songs": 0, "sets": 0, "already": 3} == intake(diary, HISTORIES / "grid.xlsx")

    pd.testing.assert_frame_equal(before, diary.plays())
    assert SHOWS == as_sets(diary.shows(), before)


def test_nothing_is_written_while_a_question_is_open(diary, tmp_path):
    """
    One open question keeps the whole file out.
    """
    diary.add_song("Ferry")
    path = tmp_path / "sets.csv"
    path.write_text("date,city,song\n2031-03-04,A,Ferry\n2031-03-05,A,Brass Elephants\n", encoding="utf-8")
    with pytest.raises(HistoryProblem) as caught:
        intake(diary, path)

    assert (
        "Nothing was written: 1 question to settle first.\n"
        '- sets.csv, row 3, column C: "Brass Elephants" may not be in the repertoire. No title is near. '
        'Answer with the title, "new" for a new song, or "skip" to leave it out. (key: title: Brass Elephants)'
    ) == str(caught.value)
    assert 0 == len(diary.shows())
    assert {"shows": 2, "songs": 1, "sets": 2, "already": 0} == intake(diary, path, {"title: Brass Elephants": "new"})


def test_another_set_in_the_diary_is_a_question_and_nothing_is_written(diary, tmp_path):
    """
    The show that differs is named; the new show of the same file is not written either.
    """
    intake(diary, HISTORIES / "long_iso.csv")
    path = tmp_path / "sets.csv"
    path.write_text("date,city,song\n2031-03-05,Millquern,Ferry\n2031-03-20,Millquern,Ferry\n", encoding="utf-8")
    shows, plays, problems = read_history(path, diary.songs())
    with pytest.raises(
        HistoryProblem, match=r"The diary has other sets for 1 show \(2031-03-05 Millquern\): 4 of 2 places differ"
    ):
        write_history(diary, shows, plays, problems)

    assert 3 == len(diary.shows())


def test_a_show_that_is_there_without_a_set_gets_it(diary):
    """
    Shows planned by hand are filled in, whatever the case of the town.
    """
    show_id = diary.add_show("2031-03-05", "MILLQUERN")

    assert {"shows": 2, "songs": 8, "sets": 3, "already": 0} == intake(diary, HISTORIES / "long_iso.csv")
    assert 4 == (diary.plays().show_id == show_id).sum()


@settings(max_examples=60, deadline=None)
@given(data=st.binary(max_size=300) | st.text(max_size=300).map(str.encode) | st.lists(
    st.sampled_from(["date", "song", ",", ";", "\n", "2031-03-04", "3/4/2031", "Ferry", "x", "sep=", "\t", "1", '"', "Encore", "\x00"]), max_size=60
).map(lambda parts: "".join(parts).encode()))  # fmt: skip
@pytest.mark.parametrize("name", ["any.csv", "any.txt", "any.xlsx"])
def test_any_bytes_at_all_are_read_or_refused_with_a_sentence(tmp_path_factory, name, data):
    """
    No exception but our own.
    """
    path = tmp_path_factory.mktemp("any") / name
    path.write_bytes(data)
    for songs in (None, ["Ferry", "Tin Rook"]):
        try:
            shows, plays, _ = read_history(path, songs)
        except Problem as problem:
            assert str(problem)  # noqa: PT017  # any bytes: refused here, read there
        else:
            assert set(plays.show_id) <= set(shows.show_id)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.sampled_from(
            ["Ferry", "4 March 2031, Brackwater", "", "Encore", "1. Tin Rook", "--", "Hello there", "x 3:45", "(what)"]
        ),
        max_size=15,
    )
)
def test_no_line_of_a_text_is_lost(tmp_path_factory, lines):
    """
    Each line that is not blank is a heading, a song, or listed with the reason.
    """
    path = tmp_path_factory.mktemp("text") / "sets.txt"
    path.write_text("\n".join(lines), encoding="utf-8")
    shows, plays, problems = read_history(path, ["Ferry", "Tin Rook"])
    seen = {*plays.row, *(row for _, row, _, _ in plays.attrs["ignored"])}
    written = {at for at, line in enumerate(lines, start=1) if line.strip() and "2031" not in line}

    if "show" not in "".join(problems.key) and not shows.empty and len(shows) == sum("2031" in line for line in lines):
        assert written <= seen


def shows_typed(sets, *, mark=""):
    """Text of three shows, with something before each encore."""
    return "\n\n".join(f"{day}, {town}\n" + "\n".join(songs[:-1]) + f"\n{mark}{songs[-1]}" for day, town, songs in sets)


THREE = [
    ("4 March 2031", "Brackwater", ["1. Ferry", "2. Copper Wire", "3. Salt Road", "Tin Rook"]),
    ("5 March 2031", "Millquern", ["1. Tin Rook", "2. Ferry", "3. Copper Wire", "Salt Road"]),
    ("7 March 2031", "Oxhaven", ["1. Copper Wire", "2. Salt Road", "3. Tin Rook", "Ferry"]),
    ("8 March 2031", "Ostby", ["1. Salt Road", "2. Ferry", "3. Tin Rook", "Copper Wire"]),
]


@pytest.mark.parametrize("mark", ["Ex. ", "Zugabe "])
def test_a_word_before_the_last_songs_of_the_shows_says_that_they_are_the_encore(tmp_path, mark):
    """
    What stands behind it is a title elsewhere; nothing is asked.
    """
    shows, plays, problems = read(tmp_path, shows_typed(THREE, mark=mark), name="sets.txt")

    assert problems.empty
    assert {"Ferry", "Copper Wire", "Salt Road", "Tin Rook"} == set(plays.song)
    assert [1, 1, 1, 1] == [one[3] for one in as_sets(shows, plays)]


def test_small_letters_in_brackets_among_titles_are_asked_about(tmp_path):
    """
    They are proposed as said between two songs.
    """
    sets = [(day, town, [*songs[:2], "(tuning, sorry)", *songs[2:]]) for day, town, songs in THREE]
    sets = [(day, town, [song.lstrip("123. ") for song in songs]) for day, town, songs in sets]
    _, plays, problems = read(tmp_path, shows_typed(sets), name="sets.txt")

    assert "song: (tuning, sorry)" in problems.key.tolist()
    assert "(tuning, sorry)" not in plays.song.tolist()


def test_an_error_where_the_day_should_be_is_of_the_show_around_it(tmp_path):
    """
    Its gig has the same number and town above and below.
    """
    rows = [
        f"{gig},{'#N/A' if (gig, at) == (2, 1) else day},{town},{at + 1},{song}"
        for gig, (day, town, songs, _) in enumerate(SHOWS, 1)
        for at, song in enumerate([*songs, "Quill"])
    ]
    shows, plays, problems = read(tmp_path, "\n".join(["gig,day,town,slot,song", *rows]))

    assert problems.empty
    assert [len(songs) + 1 for _, _, songs, _ in SHOWS] == [len(one[2]) for one in as_sets(shows, plays)]


def test_a_day_without_a_year_heads_a_message_sent_after_midnight(tmp_path):
    """
    The year is the message's; a line before the first set is no show.
    """
    lines = ["[01.03.31, 18:03:40] Odile: only sets here please"]
    for day, (_, town, songs) in zip((4, 5, 7, 8), THREE, strict=True):
        stamp = f"[{day + 1:02}.03.31, 00:20:0"
        lines += [f"{stamp}1] Odile: Set {town} {day}.3."]
        lines += [f"{stamp}{at}] Odile: {song.lstrip('123. ')}" for at, song in enumerate(songs, 2)]
    shows, _, _ = read(tmp_path, "\n".join(lines), name="chat.txt")

    assert ["2031-03-04", "2031-03-05", "2031-03-07", "2031-03-08"] == [f"{day:%Y-%m-%d}" for day in shows.date]
