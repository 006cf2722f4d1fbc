"""The forms of every day, without a browser: fields are filled, buttons pressed, the diary read back."""

import pandas as pd
import pytest

import tourstats
from tourstats import diary
from tourstats.models import rotation
from tourstats.pages.after_show.form import AfterShow, form
from tourstats.pages.kit.show_written import Night, as_lines, named
from tourstats.pages.kit.widgets import choice
from tourstats.pages.show_day.form import ShowDay
from tourstats.pages.today.words import now
from tourstats.pages.workbook import Whose
from tourstats.problems import Problem


@pytest.fixture
def path(tmp_path):
    """A diary with one show played, and the next one handed out."""
    place = tmp_path / "diary.sqlite"
    with diary.opened(place) as book:
        for song in ("Ferry", "Copper Wire", "Tin Rook", "Salt Road", "Salt Harbour"):
            book.add_song(song, minutes=4.0)
        first = book.add_show("2031-03-04", "Ostby", room="club")
        book.write_set(first, ["Ferry", "Copper Wire"], stage="played")
        second = book.add_show("2031-03-05", "Marrow", room="theatre")
        book.write_set(second, ["Ferry", "Tin Rook", "Copper Wire"], stage="planned", encore_from=3)
    return place


def tables(path):
    """The diary, read back."""
    with diary.opened(path) as book:
        return book.read()


def press(box, words, which=0):
    """Press the button that says this."""
    found = [one for one in everything(box) if getattr(one, "description", None) == words and hasattr(one, "click")]
    found[which].click()


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
    if hasattr(field, "rows"):
        field.value = f"{typed}\n"
    else:
        field.value = typed
        field._handle_custom_msg({"event": "submit"}, [])


def played(path, show_id=2):
    plays = tables(path).plays
    plays = plays[plays.show_id == show_id]
    return list(zip(plays.song, plays.encore, strict=True))


def test_a_night_is_logged_in_a_few_presses(path):
    """
    As planned, all reviewed, three mistakes and a note; everything is in the diary at once.
    """
    page = AfterShow(path)
    press(page.box, "Played as planned")
    press(page.box, "Reviewed all")
    for line in ("2 dragged in the chorus !", "ferry: late entry bar 12", "the third one rushed !!"):
        enter(page.findings.line, line)
    enter(page.notes.line, "dark stage left")

    found = tables(path)
    assert [("Ferry", False), ("Tin Rook", False), ("Copper Wire", True)] == played(path)
    assert 3 == len(found.reviews)
    assert [("Tin Rook", "tempo", 2), ("Ferry", "entry", 1), ("Copper Wire", "tempo", 3)] == list(
        zip(found.mistakes.song, found.mistakes.kind, found.mistakes.severity, strict=True)
    )
    assert [("show", 2, "dark stage left")] == list(
        zip(found.notes.about, found.notes.show_id, found.notes.text, strict=True)
    )


def test_the_show_that_was_handed_out_last_waits_to_be_written_down(path):
    """
    An earlier one that nobody wrote down does not come back every night.
    """
    with diary.opened(path) as book:
        book.write_set(book.add_show("2031-03-01", "Weir"), ["Ferry"])

    assert 2 == AfterShow(path).show.value


def test_what_was_played_differs_from_what_was_planned(path):
    """
    A song dropped, one moved behind the encore's start, one added by its letters: buttons change the text.
    """
    page = AfterShow(path)
    change = page.played
    change.list.index = 0
    press(page.box, "Dropped")
    change.list.index = 0
    press(page.box, "Later")
    change.added.value = "salt r"
    press(page.box, "Add it")
    assert "ENCORE\nTin Rook\nSalt Road\nCopper Wire" == change.text.value

    change.list.index = 3
    press(page.box, "Encore starts here")
    press(page.box, "Save what was played")

    assert [("Tin Rook", False), ("Salt Road", False), ("Copper Wire", True)] == played(path)


def test_the_numbers_of_the_printed_sheet_stay_when_a_song_is_dropped(path):
    """
    Song 3 of the paper is still 3 after song 2 was left out; what was dropped has no mistakes, and is said.
    """
    page = AfterShow(path)
    page.played.text.value = "Ferry\nENCORE\nCopper Wire\nSalt Road"
    options = [words for words, _ in page.played.list.options]
    press(page.box, "Save what was played")
    enter(page.findings.line, "3 dragged in the chorus")
    enter(page.these, "2")

    assert ["1  Ferry", "·  encore  ·", "3  Copper Wire", "+  Salt Road"] == options
    assert ["Copper Wire"] == tables(path).mistakes.song.tolist()
    assert 'Song 2 of the sheet, "Tin Rook", was not played at this show.' in page.reviewed_said.value.replace(
        "&quot;", '"'
    )
    assert "Not played: 2 Tin Rook" in page.state.value


def test_what_is_not_found_blocks_the_save_beside_its_field(path):
    """
    Letters of no song: said beside the field, nothing is written. Letters of any song of the repertoire: taken.
    """
    page = AfterShow(path)
    page.played.added.value = "qwxyz"
    press(page.box, "Save what was played")
    refused, beside, said_ = played(path), page.played.added_said.value, page.played.said.value
    page.played.added.value = "salt r"
    page.played.list.index = 0
    press(page.box, "Save what was played")

    assert [] == refused
    assert "qwxyz" in beside
    assert "Nothing is saved yet: see beside Add" in said_
    assert ["Ferry", "Salt Road", "Tin Rook", "Copper Wire"] == [song for song, _ in played(path)]


def test_what_stopped_a_save_is_not_said_once_it_is_mended(path):
    """
    The song is found after all: nothing says any more that nothing is saved.
    """
    page = AfterShow(path)
    page.played.added.value = "qwxyz"
    press(page.box, "Save what was played")
    page.played.added.value = "salt r"
    press(page.box, "Add it")

    assert "" == page.played.said.value


def test_an_open_line_is_asked_about_and_nothing_is_written(path):
    """
    The answer is given beside the question, then the set is saved whole.
    """
    page = AfterShow(path)
    page.played.text.value = "Ferry\nQuarry Song"
    press(page.box, "Save what was played")
    assert [] == played(path)
    assert "Nothing is saved yet: 1 line is not sure. Choose below, then press Save with these answers." in said(
        page.played.box
    )

    (asked,) = page.played.open.asked.values()
    asked.value = "new"
    press(page.box, "Save with these answers")

    assert ["Ferry", "Quarry Song"] == [song for song, _ in played(path)]
    assert () == page.played.open.box.children


def test_a_mistake_without_a_clear_song_is_kept_until_the_song_is_chosen(path):
    """
    The line waits below, also after a restart; the choice saves it.
    """
    enter(AfterShow(path).findings.line, "somewhere in the middle I rushed")
    page = AfterShow(path)
    assert 0 == len(tables(path).mistakes)

    (asked,) = page.findings.questions.children
    assert '"somewhere in the middle I rushed"' == asked.description
    asked.value = "Tin Rook"

    found = tables(path).mistakes
    assert [("Tin Rook", "tempo", "somewhere in the middle I rushed")] == list(
        zip(found.song, found.kind, found.remark, strict=True)
    )
    assert () == page.findings.questions.children
    assert () == AfterShow(path).findings.questions.children


def test_many_lines_are_pasted_at_once(path):
    """
    Every line that is sure is saved; the last waits for Enter; the rest of the songs was clean.
    """
    page = AfterShow(path)
    press(page.box, "Played as planned")
    page.findings.line.value = "1 rushed\n\n2 late entry !\nrest clean\nthree"

    found = tables(path)
    assert ["Ferry", "Tin Rook"] == found.mistakes.song.tolist()
    assert 3 == len(found.reviews)
    assert "three" == page.findings.line.value


def test_lines_that_the_browser_sends_again_are_not_saved_again(path):
    """
    The next line may be under way before the browser has heard that the one before is saved.
    """
    page = AfterShow(path)
    page.findings.line.value = "1 rushed\n"
    page.findings.line.value = "1 rushed\n2 dra"
    page.findings.line.value = "2 dragged\n"

    assert ["Ferry", "Tin Rook"] == tables(path).mistakes.song.tolist()


def test_the_same_line_may_be_found_twice(path):
    """
    Two of a kind in one song are two mistakes, typed letter by letter.
    """
    page = AfterShow(path)
    enter(page.findings.line, "1 rushed")
    page.findings.line.value = "1 ru"
    enter(page.findings.line, "1 rushed")

    assert 2 == len(tables(path).mistakes)


def test_what_was_pasted_is_saved_once_however_fast_enter_comes(path):
    """
    Enter before the browser has heard that the first lines are saved; pasted again, a word; after Undo it counts again.
    """
    page, pasted = AfterShow(path), "1 rushed\n2 late entry\n3 dragged"
    page.findings.line.value = pasted
    page.findings.line.value = f"{pasted}\n"
    assert ["Ferry", "Tin Rook", "Copper Wire"] == tables(path).mistakes.song.tolist()
    assert "" == page.findings.line.value

    page.findings.line.value = f"{pasted}\n"
    assert 3 == len(tables(path).mistakes)
    assert "not saved twice" in page.findings.said.value

    press(page.box, "Undo")
    page.findings.line.value = f"{pasted}\n"
    assert 5 == len(tables(path).mistakes)


@pytest.mark.parametrize(
    ("saved", "offered"), [("Ferry\nTin Rook\nENCORE\nCopper Wire", True), ("Ferry (short)\nTin Rook", False)]
)
def test_a_set_saved_with_changes_is_not_replaced_by_the_plan(path, saved, offered):
    """
    The button is gone once the played set differs, and a page that still shows it replaces nothing.
    """
    old, page = AfterShow(path), AfterShow(path)
    page.played.text.value = saved
    press(page.box, "Save what was played")
    press(old.box, "Played as planned")

    assert saved == "\n".join(as_lines(Night(Whose(path, demo=False)).played))
    assert offered == (page.played.as_planned_button.layout.display != "none")
    assert offered != ("differs from the plan" in old.played.said.value)


def test_the_show_to_be_logged_opens_though_something_is_typed_for_another(path):
    """
    The latest set that is not still to come, as on Today; what was typed for last night's show waits there and is said.
    """
    days = [pd.Timestamp.today().normalize() + pd.Timedelta(days=ago) for ago in (-3, -2, 2)]
    with diary.opened(path) as book:
        for show in (2, 1):
            book.remove_show(show)
        shows = [book.add_show(day.date(), city) for day, city in zip(days, ("Weir", "Ostby", "Marrow"), strict=True)]
        book.write_set(shows[0], ["Ferry"], stage="played")
    page = AfterShow(path)
    assert shows[0] == page.show.value
    page.findings.line.value = "1 rush"

    with diary.opened(path) as book:
        for show in shows[1:]:
            book.write_set(show, ["Tin Rook"])
    page, today = AfterShow(path), now(tables(path))

    assert (shows[1], "") == (page.show.value, page.findings.line.value)
    assert f"{named(page.night.row)}." == today.lines[0]
    assert "Typed and not saved yet: " in page.short.value
    assert "Weir" in page.short.value

    page.show.value = shows[0]
    assert "1 rush" == page.findings.line.value
    assert f"To be logged is {today.lines[0][:-1]}; choose it below." in page.short.value


def test_kind_and_section_stay_for_the_next_mistake(path):
    """
    Field by field, what is often the same is typed once; a bar that is no number is asked about.
    """
    page = AfterShow(path)
    fields = page.findings
    fields.song.value, fields.kind.value, fields.section.value, fields.severity.value = "1", "groove", "bridge", 2
    fields.bar.value = "twelve"
    press(page.box, "Save this mistake")
    assert 0 == len(tables(path).mistakes)
    assert "The bar is a number" in said(page.findings.box)

    fields.bar.value = "12"
    press(page.box, "Save this mistake")
    enter(fields.song, "tin")

    found = tables(path).mistakes
    assert [("Ferry", "groove", "bridge", 2), ("Tin Rook", "groove", "bridge", 2)] == list(
        zip(found.song, found.kind, found.section, found.severity, strict=True)
    )
    assert [12] == found.bar.dropna().tolist()


def test_what_was_entered_can_be_taken_out_and_brought_back(path):
    """
    Remove beside each entry, Undo for the latest change.
    """
    page = AfterShow(path)
    press(page.box, "Played as planned")
    press(page.box, "Reviewed all")
    enter(page.findings.line, "ferry: late entry")
    press(page.written.list, "Remove", which=1)
    assert ["Ferry"] == tables(path).reviews.song.tolist()
    press(page.written.list, "Remove", which=1)
    assert 0 == len(tables(path).mistakes)
    press(page.written.list, "Remove")
    assert [] == played(path)

    for _ in range(3):
        press(page.box, "Undo")

    assert (3, 1, 3) == (len(played(path)), len(tables(path).mistakes), len(tables(path).reviews))


def test_what_was_typed_but_not_saved_is_there_after_a_restart(path):
    """
    A new form on the same diary, as after a dead kernel, shows what was typed; once saved, nothing is kept.
    """
    page = AfterShow(path)
    page.findings.line.value, page.notes.line.value = "ferry: late en", "dark"
    page.played.text.value, page.runs.songs.value = "Ferry\nTin R", "1, 2"

    again = AfterShow(path)
    assert ("ferry: late en", "dark", "Ferry\nTin R", "1, 2") == (
        again.findings.line.value, again.notes.line.value, again.played.text.value, again.runs.songs.value,
    )  # fmt: skip

    enter(again.findings.line, "ferry: late entry")
    enter(again.notes.line, "dark stage")
    press(again.box, "Played as planned")
    press(again.box, "Save the runs")
    last = AfterShow(path)
    assert ("", "", "Ferry\nTin Rook\nENCORE\nCopper Wire", "") == (
        last.findings.line.value, last.notes.line.value, last.played.text.value, last.runs.songs.value,
    )  # fmt: skip


def test_a_draft_belongs_to_its_show(path):
    """
    Going to another show and back loses nothing and mixes nothing.
    """
    page = AfterShow(path)
    page.played.text.value, page.notes.line.value = "Ferry\nTin R", "dar"
    page.show.value = 1
    assert ("Ferry\nCopper Wire", "") == (page.played.text.value, page.notes.line.value)

    page.show.value = 2

    assert ("Ferry\nTin R", "dar") == (page.played.text.value, page.notes.line.value)


@pytest.mark.parametrize(
    ("typed", "about", "text"),
    [
        ("2: softer", ("song", "Tin Rook", None), "softer"),
        ("tin rook > copper wire: no gap", ("transition", "Tin Rook", "Copper Wire"), "no gap"),
        ("late: doors at nine", ("show", None, None), "late: doors at nine"),
    ],
)
def test_a_note_is_on_what_its_line_names(path, typed, about, text):
    """
    A song, two songs with a sign between, else the show.
    """
    enter(AfterShow(path).notes.line, typed)

    note = tables(path).notes.astype(object).replace({float("nan"): None}).iloc[0]
    assert (about, text, 2) == ((note.about, note.song, note.next_song), note.text, note.show_id)


def test_a_note_on_a_song_in_this_kind_of_room_comes_back_there(path):
    """
    What the note is on, and where it holds.
    """
    page = AfterShow(path)
    page.notes.on.value, page.notes.personal.value = 5, True
    page.notes.song.value = "1"
    enter(page.notes.line, "softer")

    note = tables(path).notes.iloc[0]
    assert ("song", "Ferry", "theatre", True) == (note.about, note.song, note.room, note.personal)


def test_a_note_that_cannot_be_saved_stays_where_it_was_typed(path):
    """
    The problem is said beside it.
    """
    page = AfterShow(path)
    page.notes.on.value = 2
    enter(page.notes.line, "softer")

    assert "softer" == page.notes.line.value
    assert "Say which song" in page.notes.said.value


def test_runs_of_several_songs_are_one_change(path):
    """
    Songs by their places and by letters; Undo takes all of them back.
    """
    page = AfterShow(path)
    page.runs.way.value, page.runs.runs.value, page.runs.minutes.value = "pad", 2, "4,5"
    enter(page.runs.songs, "1-2, salt road")
    runs = tables(path).rehearsals
    assert [(song, "pad", 2, 4.5) for song in ("Ferry", "Tin Rook", "Salt Road")] == list(
        zip(runs.song, runs.way, runs.runs, runs.minutes, strict=True)
    )

    press(page.box, "Undo")

    assert 0 == len(tables(path).rehearsals)


def test_some_songs_are_reviewed_by_their_places(path):
    """
    "1, 3" are the first and the third of the set.
    """
    enter(AfterShow(path).these, "1, 3")

    assert {"Ferry", "Copper Wire"} == set(tables(path).reviews.song)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("9", "This show has no song 9: its songs are 1 to 3."),
        ("salt", '"salt" could be "Salt Road" and "Salt Harbour". Type more of it, or its number in the set.'),
        ("", 'Say which songs, as in "1-5, 8" or by letters of their titles.'),
    ],
)
def test_a_song_that_is_not_clear_is_asked_about(path, typed, sentence):
    """
    What was typed, what it could be, and how to say it.
    """
    with pytest.raises(Problem) as caught:
        Night(Whose(path, demo=False)).several(typed)

    assert sentence == str(caught.value)


def test_an_empty_diary_says_what_to_do_next(tmp_path):
    """
    No error on the first day.
    """
    with diary.opened(tmp_path / "new.sqlite"):
        pass

    page = AfterShow(tmp_path / "new.sqlite")
    press(page.box, "Played as planned")

    assert "Paste the set on the page Show day first" in said(page.box)
    assert "Press With changes, and type or paste what was played" in said(page.played.box)


def test_a_fault_of_the_program_is_said_and_keeps_what_was_typed(path, monkeypatch):
    """
    Not only in a log that nobody sees.
    """
    page = AfterShow(path)
    monkeypatch.setattr("tourstats.pages.after_show.findings_form.read_found", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        enter(page.findings.line, "1 rushed")

    assert "the fault is the program" in page.findings.said.value
    assert "1 rushed" in page.findings.line.value


def test_the_caution_counts_the_set_and_the_runs_at_the_kit(path, monkeypatch):
    """
    Three songs of four minutes, and one run at the kit of eight, on the day of the show.
    """
    monkeypatch.setattr(Night, "day", pd.Timestamp("2031-03-05").date())
    page = AfterShow(path)
    page.runs.minutes.value = "8"
    enter(page.runs.songs, "1")
    page.runs.way.value, page.runs.minutes.value = "pad", "30"  # loud nowhere but in the hands
    enter(page.runs.songs, "2")
    page.level.value = "94"

    assert "20 minutes at 94 dBA is 33% of the recommended limit" in page.ears.value
    assert AfterShow(path).level.value == "94" == ShowDay(path).level.value


@pytest.mark.parametrize(("ago", "is_show"), [(0, True), (1, True), (23, True), (-2, False)])
def test_runs_and_notes_belong_to_the_day_of_the_show_that_is_looked_at(path, ago, is_show):
    """
    Weeks later too; a show that is still to come was run for today. Rotation and A song say that day.
    """
    today = pd.Timestamp.today().normalize()
    that = today - pd.Timedelta(days=ago)
    with diary.opened(path) as book:
        show = book.add_show(that.date(), "Weir")
        book.write_set(show, ["Salt Road"], stage="played")
    page = AfterShow(path)
    page.show.value = show
    enter(page.runs.songs, "salt harbour")
    enter(page.notes.line, "1: softer")

    found, day = tables(path), that if is_show else today
    assert ([day], [day]) == (found.rehearsals.date.tolist(), found.notes.date.tolist())
    if is_show:
        table = rotation.layoffs(found.plays, found.shows, found.songs, found.rehearsals, on=today.date())
        assert [ago] == table.rehearsed_days[table.song == "Salt Harbour"].tolist()
        assert [day] == tourstats.song(found, "Salt Harbour").runs.date.tolist()


def test_runs_may_be_of_another_day(path):
    """
    The day of the show is offered; another is chosen, and said.
    """
    page = AfterShow(path)
    day = pd.Timestamp(page.night.day) - pd.Timedelta(days=1)
    page.runs.day.value = day.date()
    enter(page.runs.songs, "1")

    assert [day] == tables(path).rehearsals.date.tolist()
    assert f"on {day.day} {day:%b %Y}" in page.runs.said.value


def test_a_page_has_the_same_name_in_every_kernel(path):
    """
    A notebook that is executed twice is the same file twice; without a kernel it still says something.
    """
    bundle = form(path)._repr_mimebundle_()

    assert bundle["application/vnd.jupyter.widget-view+json"]["model_id"].startswith("tourstats-after-the-show-")
    assert "Run this page" in bundle["text/plain"]
    assert "What was played is not saved yet" in bundle["text/html"]
    assert "<strong>5 Mar 2031: Marrow</strong>: What was played is not saved yet, 0 of 3" in bundle["text/html"]


def test_what_stands_in_short_on_top_follows_every_save(path):
    """
    Once on the page, and never older than the diary, also where another page saved the set that was played.
    """
    day, after = ShowDay(path), AfterShow(path)
    before = day.short.value
    day.pasted.value = "Ferry\nTin Rook"
    press(day.box, "Save and prepare")
    press(after.box, "Played as planned")
    press(after.box, "Reviewed all")

    assert "<strong>Marrow, theatre, Wednesday 5 March 2031.</strong> 3 songs: 2 carried over, 1 came in." in before
    assert "2 songs: 1 carried over, 1 came in." in day.short.value
    assert 1 == said(day.box).count("1 carried over, 1 came in.")
    assert "2 of 2 reviewed, 0 mistakes" in after.short.value
    assert 1 == said(after.box).count("2 of 2 reviewed")


def test_the_show_day_saves_first_and_then_shows_everything(path, tmp_path):
    """
    The set is written, the page says what changed, the sheet is in the folder and can be taken along.
    """
    page = ShowDay(path, folder=tmp_path / "sheets")
    page.pasted.value = "1. Ferry\n2. TIN ROOK\nSalt Road"
    press(page.box, "Save and prepare")

    planned = tables(path).planned
    assert ["Ferry", "Tin Rook", "Salt Road"] == planned.song[planned.show_id == 2].tolist()
    assert "Salt Road <span class='new'>first time</span>" in page.page.value
    assert "<summary>Tonight against the last set (3)</summary>" in page.more.value
    assert ("Paste another set", False, "") == (page.paste.description, page.paste.value, page.pasted.value)
    assert {".pdf", ".html"} == {made.suffix for made in (tmp_path / "sheets").iterdir()}
    assert 'href="data:application/pdf;base64,JVBER' in page.sheet.value
    assert "The set is saved: 3 songs." in page.said.value
    assert "1. Ferry" not in (ShowDay(path).pasted.value)


def test_what_is_not_sure_is_asked_in_its_place_in_the_set(path):
    """
    The set stands in its order, with a choice at the one line that could be two songs.
    """
    page = ShowDay(path)
    page.pasted.value = "Ferry\nSalt\nTin Rook"
    press(page.box, "Save and prepare")
    kinds = [getattr(one, "value", "button") for one in page.open.box.children]

    assert ["1. Ferry", None, "3. Tin Rook"] == kinds[:3]
    assert '2. "Salt"' == page.open.box.children[1].description
    assert page.paste.value


def test_last_nights_set_with_a_change_that_is_understood_is_saved_and_said(path, tmp_path):
    """
    Only one show was played the night before: which set it was, and what is changed, stands in the answer.
    """
    page = ShowDay(path, folder=tmp_path)
    page.pasted.value = "same as last night but Salt Road instead of Ferry"
    press(page.box, "Save and prepare")

    assert ["Salt Road", "Copper Wire"] == tables(path).planned.song.tolist()
    assert "the set of 4 March 2031 at Ostby, Salt Road in the place of Ferry" in page.said.value


def test_an_earlier_set_with_a_change_is_proposed_and_taken_with_one_press(path, tmp_path):
    """
    The whole set is shown in one choice; nothing is saved before the press.
    """
    page = ShowDay(path, folder=tmp_path)
    page.pasted.value = "same as last time but Salt Road instead of Ferry"
    press(page.box, "Save and prepare")
    before = tables(path).planned.song.tolist()
    offered_ = [words for words, _ in page.open.asked["order"].options]
    shown = said(page.open.box)
    press(page.box, "Take all that is proposed")

    assert ["Ferry", "Tin Rook", "Copper Wire"] == before
    assert "the set of 4 March 2031 at Ostby, Salt Road in the place of Ferry" in offered_
    assert "1. Salt Road<br>2. Copper Wire" in shown
    assert ["Salt Road", "Copper Wire"] == tables(path).planned.song.tolist()


def test_a_set_that_is_headed_with_another_town_is_asked_about_once(path, tmp_path):
    """
    The chosen show is in Marrow, the set is headed Ostby: the second press keeps it for the chosen one.
    """
    page = ShowDay(path, folder=tmp_path)
    page.pasted.value = "OSTBY\n\nFerry\nSalt Road"
    press(page.box, "Save and prepare")
    said_ = page.said.value
    first = tables(path).planned.song.tolist()
    press(page.box, "Save and prepare")

    assert "may be another show than the one chosen" in said_
    assert (["Ferry", "Tin Rook", "Copper Wire"], ["Ferry", "Salt Road"]) == (first, tables(path).planned.song.tolist())


def test_the_field_for_the_set_is_open_only_while_it_is_needed(path):
    """
    With a set in the diary it is folded; for a show without one, and with something in it, it is open.
    """
    page = ShowDay(path)
    folded_ = page.paste.value
    page.show.value = "another show"
    open_ = page.paste.value
    page.show.value = 2
    page.pasted.value = "Ferry"

    assert (False, True, True) == (folded_, open_, ShowDay(path).paste.value)


def test_a_set_is_safe_though_what_comes_after_fails(path, tmp_path, monkeypatch):
    """
    Saving comes before thinking, and the failure is a sentence.
    """
    page = ShowDay(path, folder=tmp_path)
    monkeypatch.setattr("tourstats.models.tonight.brief", lambda *_, **__: 1 / 0)
    page.pasted.value = "Ferry\nSalt Road"
    press(page.box, "Save and prepare")

    planned = tables(path).planned
    assert ["Ferry", "Salt Road"] == planned.song[planned.show_id == 2].tolist()
    assert "The set is saved in the diary, but not all of this page could be made." in page.said.value


def test_a_new_show_is_made_from_the_form(path, tmp_path):
    """
    Another show: its day, town, place and kind of venue; a song nobody knows is asked about.
    """
    page = ShowDay(path, folder=tmp_path)
    page.show.value = "another show"
    assert "" == page.new_show.layout.display
    day, city, _, room = page.new_show.children
    day.value, city.value, room.value = pd.Timestamp("2031-03-08").date(), "Weir", "festival"
    page.pasted.value = "Ferry\nQuarry Song"
    press(page.box, "Save and prepare")
    assert 2 == len(tables(path).shows)
    (asked,) = page.open.asked.values()
    asked.value = "new"
    press(page.box, "Save with these answers")

    show = tables(path).shows.iloc[-1]
    assert ("Weir", "festival") == (show.city, show.room)
    assert "Quarry Song" in tables(path).songs.song.tolist()


def test_the_day_is_there_for_the_set_that_was_handed_out(path, tmp_path):
    """
    Without a press, for the next show; nothing is written for it.
    """
    page = ShowDay(path, folder=tmp_path / "sheets")

    assert "Marrow" in page.short.value
    assert "The plan" in page.page.value
    assert not (tmp_path / "sheets").exists()


def test_a_pasted_set_is_kept_until_it_is_saved(path):
    """
    A reload at 16:02 costs nothing.
    """
    ShowDay(path).pasted.value = "Ferry\nTin"

    assert "Ferry\nTin" == ShowDay(path).pasted.value


def test_undo_takes_the_set_back(path, tmp_path):
    """
    The set that was there before is there again, and shown.
    """
    page = ShowDay(path, folder=tmp_path)
    page.pasted.value = "Salt Road"
    press(page.box, "Save and prepare")
    press(page.box, "Undo")

    planned = tables(path).planned
    assert ["Ferry", "Tin Rook", "Copper Wire"] == planned.song[planned.show_id == 2].tolist()
    assert "Undone: the planned set" in page.said.value
    assert "Copper Wire" in page.page.value


def test_what_was_typed_is_never_markup(path, tmp_path):
    """
    Titles, remarks and notes with signs of HTML are shown as they are.
    """
    page = ShowDay(path, folder=tmp_path)
    page.pasted.value = "<b>Bold</b>"
    press(page.box, "Save and prepare")
    next(iter(page.open.asked.values())).value = "new"
    press(page.box, "Save with these answers")
    after = AfterShow(path)
    enter(after.notes.line, "<script>x</script>")

    assert "<b>" not in page.page.value
    assert "<script>" not in said(after.box)


def test_a_choice_shows_the_words_that_stand_for_nothing():
    """
    At first, after another was chosen and taken back, and when options are put in anew.
    """
    made = choice("Kind of venue", [("not said", None), ("club", "club")])
    at_first = made.label, made.index
    made.value = "club"
    made.value = None
    back = made.label, made.index
    made.options = [("which song?", None), ("Ferry", "Ferry")]

    assert ("not said", 0) == at_first == back
    assert ("which song?", 0, None) == (made.label, made.index, made.value)


def test_what_worked_is_written_down_with_the_songs_own_section(path):
    """
    A line with ++ is no mistake; the section has the name that the song's shape gives it, in a mistake too.
    """
    with diary.opened(path) as book:
        book.set_sections("Ferry", [{"name": "tail end", "bars": 4}, {"name": "long tail end", "bars": 8}])
    page = AfterShow(path)
    press(page.box, "Played as planned")
    enter(page.findings.line, "1 ++ tempo sat right in the long tail end")
    enter(page.findings.line, "1 late into the tail end !")
    page.findings.song.value = "Ferry"
    found = tables(path)

    assert [("Ferry", "long tail end", "tempo sat right in the long tail end")] == list(
        zip(found.worked.song, found.worked.section, found.worked.remark, strict=True)
    )
    assert [("Ferry", "tail end", 2)] == list(
        zip(found.mistakes.song, found.mistakes.section, found.mistakes.severity, strict=True)
    )
    assert ("tail end", "long tail end") == page.findings.section.options
    press(page.written.box, "Undo")
    assert 1 == len(tables(path).worked)
