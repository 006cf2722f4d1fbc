"""Whole files: an account of everything, nothing written wrong unasked, and what was asked about comes out as answered."""

# ruff: noqa: E501  # a file typed in one line is read in one piece

import importlib.util
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tourstats.cli import main
from tourstats.diary import opened
from tourstats.diary.intake import intake, look, write
from tourstats.diary.writing import HistoryProblem
from tourstats.problems import Problem
from tourstats.reading.account import TAKEN_AS
from tourstats.reading.sources import ONE, SETS, Pasted, read

HERE = Path(__file__).parent


def helper(name):
    """A module of this folder that is no test."""
    spec = importlib.util.spec_from_file_location(name, HERE / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


messy, noise = helper("messy"), helper("noise")
DATA = Path(__file__).parents[2] / "data"
FILES = [*sorted((HERE / "histories").glob("*")), *sorted(DATA.glob("sets_*")), DATA / "handouts_leg3.txt"]
BLOCKS = "4 March 2031, Oslebury\n1. Tin Moth\n2. Wet Banner\n3. Zinc\n\n5 March 2031, Hessop\n1. Zinc\n2. Tin Moth\n3. Snail Post\n"


def spots(text):
    return [number for number, line in enumerate(text.split("\n"), start=1) if line.strip()]


@pytest.mark.parametrize("shape", messy.SHAPES)
@pytest.mark.parametrize("seed", [1, 2])
def test_nothing_is_written_wrong_without_a_question(shape, seed):
    """
    What is read unasked is what was played; what is not sure is asked about.
    """
    sets = messy.tour(seed)
    found = read(Pasted(messy.written(shape, sets), "sets.txt"))

    assert SETS == found.kind
    assert len(found.questions) or messy.right(found, sets)


def test_most_shapes_are_read_right_without_a_question():
    """
    Seven of ten of the generator's shapes and seeds.
    """
    tours = [(shape, messy.tour(seed)) for shape in messy.SHAPES for seed in (1, 2)]
    found = [(read(Pasted(messy.written(shape, sets), "sets.txt")), sets) for shape, sets in tours]
    unasked = sum(not len(one.questions) and messy.right(one, sets) for one, sets in found)

    assert unasked >= 0.7 * len(tours)


@pytest.mark.parametrize("seed", [501, 505])
def test_a_messy_grid_of_sixty_songs_has_sixty_after_ten_decisions(seed):
    """
    Thirty shows with remarks behind titles, slips, and a total below each column.
    """
    dice = np.random.default_rng(seed)
    titles = noise.repertoire(dice, noise.STYLES[0])[:60]
    text, _ = messy.grid(seed, titles, dice, noise.slip)
    found = read(Pasted(text, "grid.txt"))

    assert sorted(titles) == sorted(set(found.plays.song))
    assert len(found.questions) <= 10


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_every_piece_of_a_file_is_in_the_account_once(path):
    """
    No cell or line that holds anything is missing, none is there twice, and its plays are what is written.
    """
    found = read(path)
    account = found.account

    assert set(account.taken_as) <= set(TAKEN_AS)
    assert not account.duplicated(["sheet", "row", "column"]).any()
    assert not account.taken_as.eq("not understood").any()
    if path.suffix == ".txt":
        assert spots(path.read_text(encoding="utf-8")) == sorted(set(account.row))
        assert len(account[account.taken_as == "song"]) == len(found.plays)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.sampled_from(["4 March 2031, Oslebury", "5 March 2031, Hessop", "", "Encore", "1. Tin Moth", "Zinc", "Wet Banner 3:45", "---", "Total 20", "(short)", "hello there", "2. Zinc > Wet Banner", "~~Snail Post~~"]),
        min_size=1, max_size=20,
    )
)  # fmt: skip
def test_no_line_of_any_text_is_lost(lines):
    """
    Whatever stands in a text is in the account, or no shows were found and that is said.
    """
    text = "\n".join(lines)
    found = read(Pasted(text))

    if found.kind == SETS:
        assert spots(text) == sorted(set(found.account.row))
        written = found.account[found.account.taken_as == "song"]
        assert len(found.plays) == sum(len(titles.split("; ")) for titles in written.song)
    elif found.kind == "":
        assert ["nothing"] == found.questions.key.tolist()


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(["Zinc", "Tin Moth", "Snail Post"]), st.sampled_from(["remark on {}", "{}", "played {} twice"]))
def test_what_names_a_song_is_not_left_out_without_a_question(song, words):
    """
    A line above the first day, or below a numbered set, that holds a title is asked about.
    """
    found = read(Pasted(f"{words.format(song)}\n\n{BLOCKS}"), songs=["Zinc", "Tin Moth", "Snail Post", "Wet Banner"])

    assert len(found.questions)


def test_a_text_is_told_in_a_few_lines():
    """
    How much there is, and what was left out, with its rows.
    """
    found = read(Pasted(BLOCKS + "Total 3\n"))

    assert ["6 places, 4 songs, 2 shows", "2 days (rows 1, 6)", "1 total (row 10)"] == found.said()[:3]


def test_the_whole_proposal_is_taken_with_one_answer(tmp_path):
    """
    An open order of day and month keeps a file out; accepted, or answered, it is written.
    """
    text = "date,town,song\n03/04/2031,Hessop,Zinc\n05/04/2031,Vantry,Zinc\n"
    with opened(tmp_path / "tour.sqlite") as diary:
        with pytest.raises(HistoryProblem):
            intake(diary, Pasted(text))
        nothing = len(diary.shows())
        accepted = intake(diary, Pasted(text), accept=True)
        diary.undo()
        answered = intake(diary, Pasted(text), {"date order": "month first"})

        assert (0, accepted) == (nothing, answered)
        assert ["2031-03-04", "2031-05-04"] == [f"{day:%Y-%m-%d}" for day in diary.shows().date]


def test_a_corrected_file_shows_what_differs_and_takes_it_with_one_answer(tmp_path):
    """
    One of six places is another song: kept out, then taken.
    """
    with opened(tmp_path / "tour.sqlite") as diary:
        intake(diary, Pasted(BLOCKS))
        looked = look(diary, Pasted(BLOCKS.replace("3. Zinc", "3. Snail Post")))
        write(diary, look(diary, Pasted(BLOCKS.replace("3. Zinc", "3. Snail Post")), accept=True))

        assert ["differs"] == looked.questions.key.tolist()
        assert "1 of 6 places differ" in looked.questions.problem[0]
        assert ["Tin Moth", "Wet Banner", "Snail Post"] == diary.plays().song.tolist()[:3]
        assert 2 == len(diary.shows())


def test_a_changed_day_is_offered_as_the_same_show(tmp_path):
    """
    The same set in the same town on another day: moved, if that is the answer.
    """
    with opened(tmp_path / "tour.sqlite") as diary:
        intake(diary, Pasted(BLOCKS))
        intake(diary, Pasted(BLOCKS.replace("5 March", "6 March")), accept=True)

        assert ["2031-03-04", "2031-03-06"] == [f"{day:%Y-%m-%d}" for day in diary.shows().date]


@pytest.mark.parametrize("name", ["README.md", "LICENSE", "pyproject.toml", "data/README.md"])
def test_a_text_that_is_no_history_is_said_to_be_none(name):
    """
    One sentence, and no question about every line; days that stand in it are no shows.
    """
    found = read(Path(__file__).parents[2] / name)

    assert ["nothing"] == found.questions.key.tolist()
    assert "it reads like a text, not like sets" in found.questions.problem[0]


def test_a_changed_town_is_offered_as_the_same_show(tmp_path):
    """
    The same set on the same day in another town: one question, and no second show.
    """
    with opened(tmp_path / "tour.sqlite") as diary:
        intake(diary, Pasted(BLOCKS))
        looked = look(diary, Pasted(BLOCKS.replace("Hessop", "Vantry")))
        intake(diary, Pasted(BLOCKS.replace("Hessop", "Vantry")), accept=True)

        assert ["city: 2031-03-05"] == looked.questions.key.tolist()
        assert ["Oslebury", "Vantry"] == diary.shows().city.tolist()


def test_three_of_a_hundred_and_sixty_places_are_taken_with_one_answer(tmp_path, capsys):
    """
    As somebody types it: the corrected file says what differs and changes nothing; with the answer it is taken.
    """
    songs = [
        f"{one} {two}"
        for one in ("Tin", "Wet", "Low", "Odd", "Raw")
        for two in ("Moth", "Banner", "Zinc", "Post", "Quill", "Gourd")
    ]
    steps = dict(enumerate((1, 7, 11, 13, 17, 19, 23, 29), start=3))
    rows = [
        f"2031-03-{day:02},Hessop,{at + 1},{songs[(step * at + day) % 30]}"
        for day, step in steps.items()
        for at in range(20)
    ]
    corrected = [f"{row.rpartition(',')[0]},Snail Parade" if at in (5, 70, 159) else row for at, row in enumerate(rows)]
    files = [tmp_path / "tour.csv", tmp_path / "corrected.csv"]
    for file, lines in zip(files, (rows, corrected), strict=True):
        file.write_text("\n".join(["date,town,no,song", *lines]), encoding="utf-8")
    own = ("--diary", str(tmp_path / "own.sqlite"), "intake")

    first, asked = (main([*own, str(file), *accept]) for file, accept in zip(files, (["--accept"], []), strict=True))
    said = capsys.readouterr().err
    taken = main([*own, str(files[1]), "--answer", "differs=take the file's"])
    with opened(tmp_path / "own.sqlite") as diary:
        now = diary.plays().song.tolist()

    assert (0, 1, 0) == (first, asked, taken)
    assert "3 of 160 places differ" in said
    assert (160, 3) == (len(now), now.count("Snail Parade"))


def test_a_history_without_towns_finds_its_shows_by_their_days(tmp_path):
    """
    Nothing is added the second time.
    """
    with opened(tmp_path / "tour.sqlite") as diary:
        intake(diary, Pasted(BLOCKS))
        again = intake(diary, Pasted(BLOCKS.replace(", Oslebury", "").replace(", Hessop", "")))

        assert {"shows": 0, "songs": 0, "sets": 0, "already": 2} == again


def test_a_day_that_is_missing_is_asked_for_and_not_lent():
    """
    Rows without a day in another town are a show of their own.
    """
    rows = [f"2031-03-04,Hessop,{at},{song}" for at, song in enumerate(("Zinc", "Tin Moth", "Snail Post"), 1)]
    rows += [f",Vantry,{at},{song}" for at, song in enumerate(("Tin Moth", "Zinc", "Wet Banner"), 1)]
    rows += [f"2031-03-09,Oslebury,{at},{song}" for at, song in enumerate(("Zinc", "Wet Banner", "Tin Moth"), 1)]
    found = read(Pasted("\n".join(["date,town,no,song", *rows])))

    assert ["date: row 5"] == found.questions.key.tolist()
    assert ["Hessop", "Vantry", "Oslebury"] == found.shows.city.tolist()


@pytest.mark.parametrize(
    ("text", "left"),
    [
        (BLOCKS.replace("2. Wet Banner", "2. ~~Wet Banner~~"), "struck out"),
        (BLOCKS.replace("2. Wet Banner", "2. Wet Banner (CUT)"), "struck out"),
        (
            BLOCKS.replace("2. Wet Banner", "2. W\u0336e\u0336t\u0336 B\u0336a\u0336n\u0336n\u0336e\u0336r\u0336"),
            "struck out",
        ),
    ],
)
def test_what_is_struck_out_was_not_played(text, left):
    """
    With signs, with a word, with an overlay.
    """
    found = read(Pasted(text))

    assert left in found.account.taken_as.tolist()
    assert "Wet Banner" not in found.plays.song.tolist()


def test_a_tail_is_a_remark_only_by_the_evidence_of_the_file():
    """
    "(short)" comes off where the bare title stands too; "in F" and "9" never do.
    """
    sets = [
        ["Gavotte in F", "Milk Float 9", "Zinc", "Tin Moth"], ["Zinc (short)", "Gavotte in F", "Tin Moth (short)", "Snail Post"],
        ["Milk Float 9", "Tin Moth", "Gavotte in F", "Zinc"],
    ]  # fmt: skip
    text = "\n\n".join(
        "\n".join([f"{at} March 2031, Hessop", *(f"{n}. {song}" for n, song in enumerate(songs, 1))])
        for at, songs in enumerate(sets, 4)
    )
    found = read(Pasted(text))

    assert {"Gavotte in F", "Milk Float 9", "Zinc", "Tin Moth", "Snail Post"} == set(found.plays.song)
    assert ["short", "short"] == found.plays.remark[found.plays.remark == "short"].tolist()


@pytest.mark.parametrize("encoding", ["utf-8", "cp1252", "cp1250", "cp1251", "shift_jis"])
def test_letters_are_told_apart_or_asked_about(encoding):
    """
    The same file in the letters of four alphabets.
    """
    titles = {"cp1250": "Žlutý šroub", "cp1251": "Медный чайник", "shift_jis": "紙の提督"}
    title = titles.get(encoding, "Élan du facteur")
    rows = "\n".join(f"2031-03-0{day},Hessop,{song}" for day in (4, 5, 6) for song in (title, "Zinc", "Tin Moth"))
    found = read(Pasted(f"date,town,song\n{rows}".encode(encoding), "sets.csv"))

    assert title in found.plays.song.tolist() or "letters" in found.questions.key.tolist()


def test_a_stray_cell_at_the_far_corner_costs_nothing(tmp_path):
    """
    It is set aside and said.
    """
    book = openpyxl.Workbook()
    for column, one in enumerate(messy.tour(5)):
        for row, value in enumerate((one[0], one[1], *one[2]), start=1):
            book.active.cell(row, column + 1, value)
    book.active.cell(1_048_576, 16_384, "x")
    book.save(tmp_path / "sets.xlsx")
    found = read(tmp_path / "sets.xlsx")

    assert messy.right(found, messy.tour(5))
    assert ["far away from the table"] == found.account.why[found.account.row == 1_048_576].tolist()


@pytest.mark.parametrize(
    ("data", "sentence"),
    [(b"\x89PNG\r\n", "it is a picture"), (b"PK\x03\x04 no", "it is damaged"),
     (b"\xd0\xcf\x11\xe0" + "EncryptedPackage".encode("utf-16-le"), "it is locked with a password")],
)  # fmt: skip
def test_what_cannot_be_read_gets_one_sentence(data, sentence):
    """
    What it is, and what to do.
    """
    with pytest.raises(Problem, match=sentence):
        read(Pasted(data, "file"))


def test_people_are_hashed_and_never_become_songs(tmp_path):
    """
    A list of addresses is known for what it is, in any order of columns.
    """
    people = "\n".join(f"guest{at}@post.example,2031-03-0{4 + at % 2}" for at in range(8))
    with opened(tmp_path / "tour.sqlite") as diary:
        intake(diary, Pasted(BLOCKS))
        done = intake(diary, Pasted(f"mail,day\n{people}", "list.csv"))

        assert {"people at shows": 8, "already": 0} == done
        assert not diary.attendance().person.str.contains("@").any()
        assert 4 == len(diary.songs())


def test_a_set_without_a_day_asks_for_it(tmp_path):
    """
    Nothing is written before; the answers name the show.
    """
    with opened(tmp_path / "tour.sqlite") as diary:
        looked = look(diary, Pasted("Zinc\nTin Moth\nSnail Post"))
        intake(diary, Pasted("Zinc\nTin Moth\nSnail Post"), {"day": "2031-03-04", "city": "Hessop"})

        assert (ONE, ["day", "city"]) == (looked.reading.kind, looked.questions.key.tolist())
        assert ["Hessop"] == diary.shows().city.tolist()
        assert ["Zinc", "Tin Moth", "Snail Post"] == diary.plays().song.tolist()


def test_weekdays_and_the_year_above_tell_day_and_month():
    """
    10/3 is in October where it is a Friday.
    """
    songs = ["Ferry", "Quill", "Wren", "Tin Moth", "Marl", "Ledger", "Ostler", "Salt Road"]
    days = ("Fri 10/3 - Ostby", "Sat 10/4 - Oxmere", "Mon 10/6 - Brackwater", "Tue 10/7 - Millquern")
    columns = [range(9), *((day, *songs[at:], *songs[:at]) for at, day in enumerate(days))]
    rows = [";".join(map(str, row)) for row in zip(*columns, strict=True)]
    text = "\n".join([";FALL RUN 2031 - what we played;;;", *rows])
    reading = read(Pasted(text, "sets.csv"))

    assert ["2031-10-03", "2031-10-04", "2031-10-06", "2031-10-07"] == [f"{day:%Y-%m-%d}" for day in reading.shows.date]
    assert "date order" not in reading.questions.key.tolist()
