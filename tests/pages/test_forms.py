"""The forms of every day, without a browser: fields are filled, buttons pressed, the diary read back."""

import pandas as pd
import pytest

from tourstats import diary
from tourstats.pages.forms.after_show import AfterShow, AfterShowProblem, places
from tourstats.pages.forms.show_day import ShowDay


@pytest.fixture
def path(tmp_path):
    """A diary with one show played, and the next one handed out."""
    place = tmp_path / "diary.sqlite"
    with diary.opened(place) as book:
        for song in ("Ferry", "Copper Wire", "Tin Roof", "Salt Road"):
            book.add_song(song, minutes=4.0)
        first = book.add_show("2031-03-04", "Ostby", room="club")
        book.write_set(first, ["Ferry", "Copper Wire"], stage="played")
        second = book.add_show("2031-03-05", "Marrow", room="theatre")
        book.write_set(second, ["Ferry", "Tin Roof", "Copper Wire"], stage="planned", encore_from=3)
    return place


def press(box, words):
    """Press the button that says this."""
    (found,) = [one for one in everything(box) if getattr(one, "description", None) == words and hasattr(one, "click")]
    found.click()


def everything(box):
    """Every widget inside."""
    yield box
    for child in getattr(box, "children", ()):
        yield from everything(child)


def said(box):
    """All that the form says."""
    return " ".join(one.value for one in everything(box) if isinstance(getattr(one, "value", None), str))


def enter(field, typed):
    """Type and press Enter, as the browser tells it."""
    field.value = typed
    field._handle_string_msg(field, {"event": "submit"}, [])


def test_a_night_is_logged_in_a_few_presses(path):
    """
    As planned, all reviewed, three mistakes and a note; everything is in the diary at once.
    """
    form = AfterShow(path)
    press(form.box, "Played as it stands here")
    press(form.box, "All of them")
    for line in ("2 dragged in the chorus !", "ferry: late entry bar 12", "the third one rushed !!"):
        enter(form.found, line)
    enter(form.note, "dark stage left")

    with diary.opened(path) as book:
        tables = book.read()
    tonight = tables.plays[tables.plays.show_id == 2]
    assert [("Ferry", False), ("Tin Roof", False), ("Copper Wire", True)] == list(
        zip(tonight.song, tonight.encore, strict=True)
    )
    assert 3 == len(tables.reviews)
    assert [("Tin Roof", 2), ("Ferry", 1), ("Copper Wire", 3)] == list(
        zip(tables.mistakes.song, tables.mistakes.severity, strict=True)
    )
    assert ["dark stage left"] == tables.notes.text.tolist()


def test_what_was_played_differs_from_what_was_planned(path):
    """
    A line taken out, one moved, one added: the text is the set.
    """
    form = AfterShow(path)
    form.set_text.value = "Tin Roof\nFerry\nEncore\nSalt Road"
    press(form.box, "Played as it stands here")

    with diary.opened(path) as book:
        played = book.plays()
    assert ["Tin Roof", "Ferry", "Salt Road"] == played.song[played.show_id == 2].tolist()


def test_an_open_line_is_asked_about_and_nothing_is_written(path):
    """
    The answer is given beside the question, then the set is saved whole.
    """
    form = AfterShow(path)
    form.set_text.value = "Ferry\nQuarry Song"
    press(form.box, "Played as it stands here")
    with diary.opened(path) as book:
        assert 2 == len(book.plays())

    (asked,) = form.open_lines.children
    asked.value = "new"
    press(form.box, "Played as it stands here")

    with diary.opened(path) as book:
        played = book.plays()
    assert ["Ferry", "Quarry Song"] == played.song[played.show_id == 2].tolist()
    assert () == form.open_lines.children


def test_a_mistake_without_a_clear_song_is_kept_until_the_song_is_chosen(path):
    """
    The line stays in the field, the choice saves it.
    """
    form = AfterShow(path)
    enter(form.found, "somewhere in the middle I rushed")
    assert "somewhere in the middle I rushed" == form.found.value

    (asked,) = form.open_finds.children
    asked.value = "Tin Roof"

    with diary.opened(path) as book:
        assert ["Tin Roof"] == book.mistakes().song.tolist()
    assert "" == form.found.value


def test_kind_and_section_stay_for_the_next_mistake(path):
    """
    Field by field, what is often the same is typed once.
    """
    form = AfterShow(path)
    form.song.value, form.kind.value, form.section.value, form.severity.value = "Ferry", "tempo", "bridge", 2
    press(form.box, "Save this mistake")
    form.song.value = "Tin Roof"
    press(form.box, "Save this mistake")

    with diary.opened(path) as book:
        found = book.mistakes()
    assert [("tempo", "bridge", 2)] * 2 == list(zip(found.kind, found.section, found.severity, strict=True))


def test_what_was_entered_can_be_taken_out_and_brought_back(path):
    """
    Remove beside each entry, Undo for the latest change.
    """
    form = AfterShow(path)
    enter(form.found, "ferry: late entry")
    press(form.below, "Remove")
    with diary.opened(path) as book:
        assert 0 == len(book.mistakes())

    press(form.box, "Undo")

    with diary.opened(path) as book:
        assert 1 == len(book.mistakes())


def test_what_was_typed_but_not_saved_is_there_after_a_restart(path):
    """
    A new form on the same diary, as after a dead kernel, shows what was typed.
    """
    form = AfterShow(path)
    form.found.value, form.set_text.value = "ferry: late en", "Ferry\nTin R"

    again = AfterShow(path)

    assert ("ferry: late en", "Ferry\nTin R") == (again.found.value, again.set_text.value)


def test_a_note_on_a_song_in_this_kind_of_room_comes_back_there(path):
    """
    What the note is on, and where it holds.
    """
    form = AfterShow(path)
    form.on.value, form.only_here.value, form.personal.value = "Ferry", True, True
    enter(form.note, "softer")

    with diary.opened(path) as book:
        note = book.notes().iloc[0]
    assert ("song", "Ferry", "theatre", True) == (note.about, note.song, note.room, note.personal)


def test_a_run_of_today_is_written_with_its_way(path):
    """
    Song, way, how often and how long.
    """
    form = AfterShow(path)
    form.run_song.value, form.way.value, form.runs.value, form.run_minutes.value = "Salt Road", "pad", 2, 9
    press(form.box, "Save the run")

    with diary.opened(path) as book:
        run = book.rehearsals().iloc[0]
    assert ("Salt Road", "pad", 2, 9.0) == (run.song, run.way, run.runs, run.minutes)


def test_some_songs_are_reviewed_by_their_places(path):
    """
    "1, 3" are the first and the third of the set.
    """
    form = AfterShow(path)
    enter(form.reviewed, "1, 3")

    with diary.opened(path) as book:
        assert {"Ferry", "Copper Wire"} == set(book.reviews().song)


def test_a_place_that_is_not_there_is_said():
    """
    What was typed, how long the set is, and how to write it.
    """
    with pytest.raises(AfterShowProblem) as caught:
        places("2-9", 5)

    assert '"2-9" is no place in this set of 5. Write places such as 1-5, 8.' == str(caught.value)


def test_an_empty_diary_says_what_to_do_next(tmp_path):
    """
    No error on the first day.
    """
    with diary.opened(tmp_path / "new.sqlite"):
        pass

    form = AfterShow(tmp_path / "new.sqlite")

    assert "Paste tonight" in said(form.box)


def test_the_show_day_saves_first_and_then_shows_everything(path, tmp_path):
    """
    The set is written, the page says what changed, and the sheet lies in the folder.
    """
    form = ShowDay(path, folder=tmp_path / "sheets")
    form.pasted.value = "1. Ferry\n2. TIN ROOF\nSalt Road"
    press(form.box, "Save and prepare")

    with diary.opened(path) as book:
        planned = book.plays("planned")
    assert ["Ferry", "Tin Roof", "Salt Road"] == planned.song[planned.show_id == 2].tolist()
    assert "Tonight against the last set" in form.page.value
    assert {".pdf", ".html"} == {made.suffix for made in (tmp_path / "sheets").iterdir()}


def test_a_set_is_safe_though_what_comes_after_fails(path, tmp_path, monkeypatch):
    """
    Saving comes before thinking.
    """

    def broken(*_, **__):
        raise ArithmeticError

    monkeypatch.setattr("tourstats.models.tonight.brief", broken)
    form = ShowDay(path, folder=tmp_path)
    form.pasted.value = "Ferry\nSalt Road"
    with pytest.raises(ArithmeticError):
        form.prepare()

    with diary.opened(path) as book:
        planned = book.plays("planned")
    assert ["Ferry", "Salt Road"] == planned.song[planned.show_id == 2].tolist()


def test_a_new_show_is_made_from_the_form(path, tmp_path):
    """
    Another show: its day, town, place and kind of room.
    """
    form = ShowDay(path, folder=tmp_path)
    form.show.value = "another show"
    day, city, _, room = form.new_show.children
    day.value, city.value, room.value = pd.Timestamp("2031-03-08").date(), "Weir", "festival"
    form.pasted.value = "Ferry\nQuarry Song"
    press(form.box, "Save and prepare")
    (asked,) = form.questions.children
    asked.value = "new"
    press(form.box, "Save and prepare")

    with diary.opened(path) as book:
        show = book.shows().iloc[-1]
        assert ("Weir", "festival") == (show.city, show.room)
        assert "Quarry Song" in book.songs().song.tolist()


def test_the_day_is_shown_for_the_set_that_is_there(path, tmp_path):
    """
    Without typing anything, for the next show.
    """
    form = ShowDay(path, folder=tmp_path)
    press(form.box, "As it is in the diary")

    assert "Marrow" in form.page.value
    assert "The plan" in form.page.value
