"""Tables of one kind in files that people keep: whatever the columns are called."""

# ruff: noqa: E501  # a file typed in one line is read in one piece

from pathlib import Path

import pandas as pd
import pytest

from tourstats.diary.book import opened
from tourstats.diary.intake import intake
from tourstats.diary.writing import HistoryProblem
from tourstats.problems import TableProblem
from tourstats.reading import one_kind
from tourstats.reading.files import bytes_of, source
from tourstats.reading.sources import read

SHOWS = pd.DataFrame(
    {
        "show_id": [7, 8, 9],
        "date": ["2031-03-04", "2031-03-05", "2031-03-05"],
        "number": [1, 1, 2],
        "city": ["Brackwater", "Millquern", "Millquern"],
    }
)


def read_table(path, *args, **kwargs):
    return one_kind.read_table(source(*bytes_of(path)), *args, **kwargs)


def table_of(path):
    return one_kind.kind_of(source(*bytes_of(path)))


def file(tmp_path, text, name="table.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_repertoire_is_read_whatever_its_columns_are_called(tmp_path):
    """
    Tempo as "128 bpm", lengths as 3:45 and 3.5, lists with commas, yes and no in words.
    """
    text = "Length;BPM;Title;Also called;Equipment;New\n3:45;128 bpm;Ferry;Boat song, FB;brushes, small cowbell;yes\n3,5;;Tin Rook;;;\n"
    frame, problems = read_table(file(tmp_path, text), "songs")

    assert problems.empty
    assert ["Ferry", "Tin Rook"] == frame.song.tolist()
    assert [3.75, 3.5] == frame.minutes.tolist()
    assert (128.0, "Boat song; FB", "brushes; small cowbell", True) == tuple(
        frame.loc[0, ["tempo_bpm", "aliases", "gear", "new_release"]]
    )


def test_a_show_is_found_by_day_town_and_number(tmp_path):
    """
    The number of the show in the diary stands in the place of what people write.
    """
    text = "date,town,show number,song,severity\n4.3.2031,brackwater,,Ferry,1\n5.3.2031,Millquern,2,Ferry,3\n5.3.2031,Millquern,1,Ferry,2\n"
    frame, problems = read_table(file(tmp_path, text), "mistakes", SHOWS, ["Ferry"])

    assert ([7, 9, 8], [1, 3, 2], True) == (frame.show_id.tolist(), frame.severity.tolist(), problems.empty)


def test_everything_that_is_wrong_is_listed_at_once(tmp_path):
    """
    A way that is none, a day that is none, a title that is not known.
    """
    text = "date,song,way\n2031-03-04,Ferry,whistling\nsometime,Ferry,kit\n2031-03-04,Brass Elephants,kit\n"
    _, problems = read_table(file(tmp_path, text), "rehearsals", SHOWS, ["Ferry"])

    assert ["way: whistling", "date: sometime", "title: Brass Elephants"] == problems.key.tolist()
    assert [2, 3, 4] == problems.row.tolist()
    assert '"whistling" in the column of way has to be one of listen, pad, kit, band.' == problems.problem[0]


def test_answers_settle_a_table(tmp_path):
    """
    A right word, a day, and rows left out.
    """
    text = "date,song,way\n2031-03-04,Ferry,whistling\nsometime,Ferry,kit\n2031-03-04,Brass Elephants,kit\n"
    answers = {"way: whistling": "listen", "date: sometime": "2031-03-05", "title: Brass Elephants": "skip"}
    frame, problems = read_table(file(tmp_path, text), "rehearsals", SHOWS, ["Ferry"], answers=answers)

    assert (["listen", "kit"], True) == (frame.way.tolist(), problems.empty)


def test_a_table_without_its_columns_says_what_it_needs(tmp_path):
    """
    The names that are needed are in the question; a table that does not exist is refused.
    """
    _, problems = read_table(file(tmp_path, "a,b\n1,2\n"), "rehearsals")
    assert "Name the columns in one row at the top; needed: date, song, way." == problems.todo[0]

    with pytest.raises(TableProblem, match="There is no table 'tours' to read; it is one of songs, venues"):
        read_table(file(tmp_path, "a,b\n1,2\n"), "tours")


@pytest.mark.parametrize(
    ("name", "text", "table"),
    [
        ("a.csv", "title,bpm\nFerry,120\n", "songs"),
        ("b.csv", "venue,town\nTin Hall,Brackwater\n", "venues"),
        ("c.csv", "date,song,way\n2031-03-04,Ferry,kit\n", "rehearsals"),
        ("d.csv", "date,song,severity,kind\n2031-03-04,Ferry,1,entry\n", "mistakes"),
        ("notes.csv", "song,text\nFerry,softer\n", "notes"),
        ("reviews.csv", "date,song\n2031-03-04,Ferry\n", "reviews"),
        ("shows.csv", "date,city,venue\n2031-03-04,Brackwater,Tin Hall\n", "shows"),
        ("sets.csv", "date,city,song\n2031-03-04,Brackwater,Ferry\n", None),
        ("sets.txt", "4 March 2031, Brackwater\n1. Ferry\n", None),
    ],
)
def test_a_file_says_by_its_columns_what_it_holds(tmp_path, name, text, table):
    """
    The name of the file decides only where the columns leave it open.
    """
    assert table == table_of(file(tmp_path, text, name))


def test_a_tour_of_files_fills_a_diary_once(tmp_path):
    """
    Repertoire, sets, rehearsals and mistakes; a second time nothing is added, and an open question writes nothing.
    """
    files = [
        file(tmp_path, "song,bpm\nFerry,120\nTin Rook,90\n", "repertoire.csv"),
        file(tmp_path, "date,city,song\n2031-03-04,Brackwater,ferry\n2031-03-04,Brackwater,Tin Rok\n", "sets.csv"),
        file(tmp_path, "date,song,way\n2031-03-03,Ferry,kit\n", "rehearsals.csv"),
        file(tmp_path, "date,song,severity,kind\n2031-03-04,Ferry,1,entry\n", "mistakes.csv"),
    ]
    with opened(tmp_path / "tour.sqlite") as diary:
        added = [next(iter(intake(diary, path).values())) for path in files]
        again = [next(iter(intake(diary, path).values())) for path in files]
        with pytest.raises(HistoryProblem, match="There is no show of 2031-03-09 in the diary"):
            intake(diary, file(tmp_path, "date,song,severity\n2031-03-09,Ferry,1\n", "mistakes.csv"))

        assert ([2, 1, 1, 1], [0, 0, 0, 0]) == (added, again)
        assert ["Ferry", "Tin Rook"] == diary.plays().song.tolist()
        assert 1 == len(diary.mistakes())


@pytest.mark.parametrize(
    "columns", ["date,song,severity,kind\n2031-03-04,Ferry,1,rushed\n2031-03-04,Ferry,1,rushed\n2031-03-04,Ferry,2,rushed\n",
                "date,song,severity\n2031-03-04,Ferry,1\n2031-03-04,Ferry,1\n2031-03-04,Ferry,2\n",
                "date,song,severity,bar,said_by\n2031-03-04,Ferry,1,12,Mo\n2031-03-04,Ferry,1,12,Mo\n2031-03-04,Ferry,1,12,Jo\n"]
)  # fmt: skip
def test_equal_mistakes_of_one_file_are_as_many_mistakes(tmp_path, columns):
    """
    Rushed twice in one song is two; the same file again adds none, and a file with one more adds one.
    """
    path = file(tmp_path, columns, "mistakes.csv")
    with opened(tmp_path / "tour.sqlite") as diary:
        intake(
            diary,
            file(tmp_path, "date,city,song\n2031-03-04,Brackwater,Ferry\n", "sets.csv"),
            {"title: Ferry": "new", "unknown titles": "new"},
        )
        first = intake(diary, path)
        again = intake(diary, path)
        path.write_text(columns + columns.splitlines()[1] + "\n", encoding="utf-8")
        more = intake(diary, path)

        assert ({"mistakes": 3, "already": 0}, {"mistakes": 0, "already": 3}) == (first, again)
        assert ({"mistakes": 1, "already": 3}, 4) == (more, len(diary.mistakes()))


def test_reviews_are_taken_once_each_with_their_listening(tmp_path):
    """
    Reviews of several shows in any order; a row twice is one review, heard again is another.
    """
    sets = "date,city,song\n2031-03-04,Brackwater,Ferry\n2031-03-04,Brackwater,Tin Rook\n2031-03-05,Millquern,Ferry\n"
    text = "date,song,listening\n2031-03-04,Ferry,1\n2031-03-05,Ferry,1\n2031-03-04,Tin Rook,1\n2031-03-04,Ferry,1\n2031-03-04,Ferry,2\n"
    with opened(tmp_path / "tour.sqlite") as diary:
        diary.add_song("Ferry")
        diary.add_song("Tin Rook")
        intake(diary, file(tmp_path, sets, "sets.csv"))
        added = intake(diary, file(tmp_path, text, "reviews.csv"))
        again = intake(diary, file(tmp_path, text, "reviews.csv"))

        assert ({"reviews": 4, "already": 1}, {"reviews": 0, "already": 5}) == (added, again)
        assert [(1, "Ferry", 1), (1, "Ferry", 2), (1, "Tin Rook", 1), (2, "Ferry", 1)] == sorted(
            diary.reviews()[["show_id", "song", "listening"]].itertuples(index=False, name=None)
        )


def test_the_demo_files_are_told_apart():
    """
    The files of the demo tour, as a person would drop them in.
    """
    data = Path(__file__).parents[2] / "data"
    told = {path.name: table_of(path) for path in data.glob("*.csv")}

    assert {"repertoire.csv": "songs", "venues.csv": "venues", "shows.csv": "shows", "sets_leg1.csv": None, "sets_leg2.csv": None,
            "rehearsals.csv": "rehearsals", "reviews.csv": "reviews", "mistakes.csv": "mistakes", "notes.csv": "notes"}.items() <= told.items()  # fmt: skip


def test_a_total_below_a_list_of_songs_is_asked_about_and_columns_that_are_left_out_are_named(tmp_path):
    """
    "TOTAL 50" is no song unless somebody says so; a key is nothing that the repertoire keeps.
    """
    (tmp_path / "songs.csv").write_text(
        "Song,Key,BPM,note\nGravel,G,120,watch the stop\nWindlass,Am,98,\nTOTAL 50,,,\n", encoding="utf-8"
    )
    asked = read(tmp_path / "songs.csv")
    settled = read(tmp_path / "songs.csv", answers={"title: TOTAL 50": "skip"})

    assert ["title: TOTAL 50"] == asked.questions.key.tolist()
    assert ["Gravel", "Windlass"] == settled.rows.song.tolist()
    assert "watch the stop" == settled.rows.watch.iloc[0]
    assert 'Left out, as songs have no such column: "Key"' in settled.said()
