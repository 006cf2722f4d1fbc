"""The first hour: what somebody brings is read, settled in place, and written once."""

import re
from datetime import UTC, datetime

import openpyxl
import pytest

from tourstats.diary import Diary, exists, opened, where
from tourstats.pages.kit import room_kinds as rooms
from tourstats.pages.start import form as start
from tourstats.reading.sources import ONE, SETS

HISTORY = """date,town,venue,song
13/03/2031,Ostby,Tin Hall,Ferry
13/03/2031,Ostby,Tin Hall,Tin Rook
14/03/2031,Kelp,Salt Yard,Ferry
14/03/2031,Kelp,Salt Yard,Copper Wire
"""
BLOCKS = """13 March 2031, Ostby
1. Ferry
2. Tin Rook
Encore
3. Copper Wire

14 March 2031, Kelp
1. Salt Road
2. Ferry
"""
FIRST = ["Lantern", "Oaken", "Hillside", "Crooked", "Velvet", "Morning", "Paper"]
SECOND = ["Waltz", "Parade", "Hymn", "Gallop", "Lullaby", "Stomp", "Quarrel"]


def words(field):
    """What a field of HTML says."""
    shown = re.sub(r"<style>.*?</style>", "", field.value)
    return " ".join(re.sub(r"<[^>]+>", " ", shown).split())


def press(form, name):
    """Press the button of that name, wherever it is."""
    found = [widget for widget in everything(form.box) if getattr(widget, "description", "") == name]
    found[0].click()


def everything(box):
    yield box
    for child in getattr(box, "children", ()):
        yield from everything(child)


def pasted(text):
    """A form in which a text was pasted and read."""
    form = start.Start()
    form.pasted.value = text
    press(form, "Read it")
    return form


def diary_now():
    with opened() as diary:
        return diary.read()


def sets_of(tables):
    dated = tables.plays.merge(tables.shows[["show_id", "date"]], on="show_id")
    return {f"{day:%m-%d}": played.song.tolist() for day, played in dated.groupby("date")}


def test_nothing_is_made_by_looking():
    """
    Opening the page, and reading what one has, leaves no songs and no shows behind.
    """
    start.Start()
    there_before = exists()
    form = pasted(HISTORY)

    assert not there_before
    assert "" != form.preview.value
    assert (0, 0, 0) == tuple(len(table) for table in (diary_now().songs, diary_now().shows, diary_now().plays))


@pytest.mark.parametrize("text", [HISTORY, BLOCKS], ids=["a row a song", "blocks"])
def test_a_pasted_history_is_written_with_one_button(text):
    """
    Two nights, as a table or as notes, are in the diary after one press.
    """
    form = pasted(text)
    press(form, "Save")

    first = ["Ferry", "Tin Rook"] if text is HISTORY else ["Ferry", "Tin Rook", "Copper Wire"]
    second = ["Ferry", "Copper Wire"] if text is HISTORY else ["Salt Road", "Ferry"]
    assert {"03-13": first, "03-14": second} == sets_of(diary_now())
    assert [text is BLOCKS] == diary_now().plays.encore[diary_now().plays.song == "Copper Wire"].tolist()


def test_in_short_follows_what_is_written():
    """
    No diary, then what was written, then an empty one.
    """
    form = pasted(HISTORY)
    said = [form.short.words]
    press(form, "Save")
    said.append(form.short.words)
    press(form, "Undo")
    said.append(form.short.words)

    expected = ["You have no diary yet", "holds **3 songs and 2 played sets**", "is empty"]
    assert all(words in sentence for words, sentence in zip(expected, said, strict=True)), said


def test_the_preview_says_how_much_there_is():
    """
    Shows, days, songs and titles, before anything is written.
    """
    form = pasted(HISTORY)

    expected = "4 places, 3 songs, 2 shows"
    assert expected in words(form.preview)
    assert SETS == form.looked.reading.kind


def test_sixty_shows_in_a_spreadsheet_are_in_at_once(tmp_path):
    """
    A grid with a column a show, chosen as a file, needs two presses.
    """
    book = openpyxl.Workbook()
    for column in range(60):
        book.active.cell(1, column + 1, f"2031-{3 + column // 28:02}-{1 + column % 28:02}")
        for row in range(20):
            book.active.cell(row + 2, column + 1, f"Long Song {chr(65 + (row * 7 + column) % 24)}")
    book.save(tmp_path / "sets.xlsx")
    form = start.Start()
    form.file.value = (
        {"name": "sets.xlsx", "type": "", "size": 1, "content": memoryview((tmp_path / "sets.xlsx").read_bytes()),
         "last_modified": datetime.now(UTC)},
    )  # fmt: skip
    press(form, "Read it")
    press(form, "Save")

    assert (60, 1200, 24) == (len(diary_now().shows), len(diary_now().plays), len(diary_now().songs))
    assert "Run these: out of the set and not run" in words(form.page)
    assert str(where()) in words(form.page)


def test_last_nights_set_alone_begins_a_diary():
    """
    A list without a day asks for the day and the town, then shows that show's day.
    """
    form = pasted("Ferry\nTin Rook\nENCORE\nCopper Wire")
    kind = form.looked.reading.kind
    press(form, "Save")
    refused = words(form.written)
    form.city.value = "Ostby"
    press(form, "Save")

    assert ONE == kind
    assert "Say on which day and in which city the show was; the venue and its kind help later." == refused
    assert [False, False, True] == diary_now().plays.encore.tolist()
    assert ["Ostby"] == diary_now().shows.city.tolist()
    assert "Encore 3 Copper Wire" in words(form.page)


def test_a_question_is_settled_in_place():
    """
    Which comes first, day or month, is asked; the answer shows in the preview, and only then is anything written.
    """
    form = pasted("date,town,song\n03/04/2031,Ostby,Ferry\n05/04/2031,Kelp,Ferry\n")
    press(form, "Save")
    refused = words(form.written)
    form.questions.asked["date order"].chosen.value = "day first"
    press(form, "Save")

    expected = "Nothing was written: 1 question is still open above. Settle it there, or leave it out."
    assert expected == refused
    assert {"04-03": ["Ferry"], "04-05": ["Ferry"]} == sets_of(diary_now())


def test_an_answer_that_settles_nothing_is_said_beside_it():
    """
    A day that is none stays open, and the field says what it wants.
    """
    form = pasted("date,town,song\n2031-04-03,Ostby,Ferry\nsometime,Kelp,Ferry\n")
    question = form.questions.asked["date: sometime"]
    question.chosen.value = "something else"
    question.typed.value = "in spring"
    wrong = words(question.said)
    question.typed.value = "2031-04-09"
    press(form, "Save")

    assert "That does not settle it. Give the day as 2031-03-04, or choose to leave this show out." == wrong
    assert "" == words(question.said)
    assert {"04-03": ["Ferry"], "04-09": ["Ferry"]} == sets_of(diary_now())


def test_one_song_typed_two_ways_can_be_made_one():
    """
    Twins are asked about without holding up the rest.
    """
    form = pasted("date,town,song\n2031-04-03,Ostby,Tin Rook\n2031-04-04,Kelp,Tinn Rook\n")
    form.questions.asked["title: Tinn Rook"].chosen.value = "Tin Rook"
    press(form, "Save")

    assert ["Tin Rook"] == diary_now().songs.song.tolist()


def test_a_set_that_the_diary_has_otherwise_is_asked_about():
    """
    Keep leaves the diary's, take puts the file's in its place; the other show is written either way.
    """
    found = {}
    for answer in ("keep the diary's", "take the file's"):
        first = pasted("2031-03-13, Ostby\n1. Ferry\n2. Copper Wire")
        first.questions.asked["one show"].chosen.value = "yes"
        press(first, "Save")
        form = pasted(BLOCKS)
        for key, question in list(form.questions.asked.items()):
            question.chosen.value = answer if key == "differs" else question.options[0][1]
        press(form, "Save")
        found[answer] = sets_of(diary_now())
        for _ in range(2):
            press(form, "Undo")

    second = ["Salt Road", "Ferry"]
    assert {"03-13": ["Ferry", "Copper Wire"], "03-14": second} == found["keep the diary's"]
    assert {"03-13": ["Ferry", "Tin Rook", "Copper Wire"], "03-14": second} == found["take the file's"]


def test_reading_it_twice_adds_nothing():
    """
    The same file again is said to be there already.
    """
    press(pasted(HISTORY), "Save")
    form = pasted(HISTORY)
    press(form, "Save")

    assert "Written: nothing new; 2 there already." == words(form.written)
    assert 4 == len(diary_now().plays)


def test_many_unknown_titles_are_one_question():
    """
    Once there is a repertoire, a file of other songs asks once; whoever wants may look at each.
    """
    press(pasted(HISTORY), "Save")
    form = pasted("2031-03-20, Lurn\n1. Alpha Bravo\n2. Charlie Delta\n3. Echo Foxtrot")
    asked = list(form.questions.asked)
    form.questions.asked["unknown titles"].chosen.value = "each"
    each = list(form.questions.asked)
    form.questions.asked["unknown titles"].chosen.value = "new"
    press(form, "Save")

    assert ["unknown titles"] == asked
    assert ["unknown titles", "title: Alpha Bravo", "title: Charlie Delta", "title: Echo Foxtrot"] == each
    assert {"Alpha Bravo", "Charlie Delta", "Echo Foxtrot"} <= set(diary_now().songs.song)


def test_a_list_of_songs_is_the_repertoire():
    """
    A table with tempi, or more lines than any set has, is taken for songs.
    """
    press(pasted("song,tempo,minutes\nFerry,96,3:30\nTin Rook,120,4\n"), "Save")
    form = pasted("\n".join(f"{one} {two}" for one in FIRST for two in SECOND))
    kind = form.looked.reading.kind
    press(form, "Save")

    assert "songs" == kind
    assert (51, 96.0, 3.5) == (len(diary_now().songs), *diary_now().songs.loc[0, ["tempo_bpm", "minutes"]])


def test_only_what_was_looked_at_is_written():
    """
    A text that was changed after it was read has to be read again.
    """
    form = pasted(HISTORY)
    form.pasted.value = BLOCKS

    assert form.looked is None
    assert "none" == form.write_button.layout.display
    assert "" == form.preview.value


@pytest.mark.parametrize("text", [HISTORY, "Ferry\nTin Rook"], ids=["a history", "one set"])
def test_everything_is_one_change(text):
    """
    Undo takes the whole file back; one set with its show and its songs.
    """
    form = pasted(text)
    form.city.value = "Ostby"
    press(form, "Save")
    written = len(diary_now().songs)
    press(form, "Undo")

    assert written > 0
    assert (0, 0) == (len(diary_now().shows), len(diary_now().songs))


def test_after_an_error_in_the_middle_nothing_is_written(monkeypatch):
    """
    A set that cannot be written takes its show and its songs back with it.
    """
    form = pasted(HISTORY)

    def broken(*_, **__):
        raise start.StartProblem("No more room.")

    monkeypatch.setattr(Diary, "write_set", broken)
    press(form, "Save")

    assert "No more room." == words(form.written)
    assert (0, 0) == (len(diary_now().shows), len(diary_now().songs))


def test_what_was_typed_survives_a_reload():
    """
    Text and answers are there again in a new form; once written, they are gone.
    """
    text = "date,town,song\n03/04/2031,Ostby,Ferry\n"
    form = pasted(text)
    form.questions.asked["date order"].chosen.value = "month first"
    again = start.Start()
    press(again, "Read it")
    press(again, "Save")

    assert text == form.pasted.value
    assert {"03-04": ["Ferry"]} == sets_of(diary_now())
    assert "" == start.Start().pasted.value


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("", "Paste something, choose a file, or give the path of a file."),
        ("/nowhere/sets.csv", "/nowhere/sets.csv cannot be read: No such file or directory. Look for its name, or "),
    ],
)
def test_nothing_to_read_is_said(typed, expected):
    """
    An empty form, and a file that is not there.
    """
    form = start.Start()
    form.path.value = typed
    press(form, "Read it")

    assert words(form.said).startswith(expected.strip())


def test_odd_bytes_are_no_fault_of_ours(tmp_path):
    """
    A picture, an empty file, a damaged spreadsheet: a sentence, never an error.
    """
    for name, data in [
        ("a.png", bytes(range(256))),
        ("b.csv", b""),
        ("c.xlsx", b"PK\x03\x04nothing"),
        ("d.txt", b"\n\n"),
    ]:
        (tmp_path / name).write_bytes(data)
        form = start.Start()
        form.path.value = str(tmp_path / name)
        press(form, "Read it")

        assert words(form.said), name


def test_the_demo_tour_is_left_alone(monkeypatch):
    """
    Without a diary one's own begins; only by name does anything go into a copy of the demo.
    """
    assert not start.Start().found.demo
    monkeypatch.setenv("TOURSTATS_DIARY", "demo")
    assert start.Start().found.demo


def test_rooms_are_said_in_one_pass():
    """
    Each place that has none gets a choice; the rest can be chosen together; shows follow, as one change.
    """
    press(pasted(HISTORY + "2031-03-15,Lurn,,Ferry\n2031-03-16,Lurn,,Ferry\n"), "Save")
    form = rooms.Rooms(start.whose(None))
    listed = [(venue, city) for venue, city, _ in form.asked]
    form.asked[0][2].value = "festival"
    form.rest.value = "club"
    press(form, "Save the rooms")
    saved = diary_now().shows.room.tolist()
    press(form, "Undo")

    assert [(None, "Lurn"), ("Salt Yard", "Kelp"), ("Tin Hall", "Ostby")] == listed
    assert ["club", "club", "festival", "festival"] == saved
    assert diary_now().shows.room.isna().all()
    assert 3 == len(form.asked)


def test_rooms_without_a_choice_are_not_saved():
    """
    Pressing too early says so.
    """
    press(pasted(HISTORY), "Save")
    form = rooms.Rooms(start.whose(None))
    press(form, "Save the rooms")

    assert "Nothing is chosen yet. Choose a kind for a venue, or for all that are left." == words(form.said)
