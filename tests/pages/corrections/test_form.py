"""Putting right what is in the diary: choose, fields filled, save, undo."""

import re

import pytest

from tourstats import demo
from tourstats.diary import opened
from tourstats.models import rotation
from tourstats.pages.corrections import form as edit
from tourstats.tables import columns


def words(field):
    """What a field of HTML says."""
    return " ".join(re.sub(r"<[^>]+>", " ", field.value).split()).replace("&quot;", '"')


def everything(box):
    yield box
    for child in getattr(box, "children", ()):
        yield from everything(child)


def press(form, name):
    """Press the button of that name in the open form."""
    found = [each for each in everything(form.part.box) if getattr(each, "description", "") == name]
    found[0].click()


@pytest.fixture
def page():
    """The page on a diary with two shows, a wrong title, a review, a mistake, a note and a rehearsal."""
    with opened() as diary:
        for song in ("Ferry", "Tin Rook", "Tinn Ruk"):
            diary.add_song(song, tempo_bpm=96.5 if song == "Ferry" else None)
        first = diary.add_show("2031-03-13", "Ostby", venue="Tin Hall", room="club")
        second = diary.add_show("2031-03-14", "Kelp")
        diary.write_set(first, ["Ferry", "Tin Rook"], stage="played")
        diary.write_set(second, ["Tinn Ruk", "Ferry"], stage="played", encore_from=2)
        diary.add_review(second, "all")
        diary.add_mistake(second, "Tinn Ruk", "entry", 2, bar=3)
        diary.add_note("Softer.", song="Ferry")
        diary.add_rehearsal("Tinn Ruk", "pad", date="2031-03-12")
    return edit.PutRight()


def opened_part(page, name):
    page.what.value = name
    return page.part


def now():
    with opened() as diary:
        return diary.read()


def test_a_song_is_filled_in_changed_and_brought_back(page):
    """
    The fields show what is there; Save writes what was changed, Undo takes it back and fills the fields anew.
    """
    part = opened_part(page, "a song")
    part.chosen.value = "Ferry"
    shown = part.fields.fields["tempo_bpm"].value
    part.fields.fields["tempo_bpm"].value = "98"
    part.fields.fields["song"].value = "The Ferry"
    part.fields.fields["readiness"].value = "show-ready"
    press(page, "Save the song")
    saved = now().songs.set_index("song").loc["The Ferry"]
    chosen = part.chosen.value
    press(page, "Undo")

    assert "96.5" == shown
    assert (98.0, "show-ready", "active") == (saved.tempo_bpm, saved.readiness, saved.status)
    assert "The Ferry" == chosen
    assert 96.5 == now().songs.set_index("song").tempo_bpm["Ferry"]


def test_only_what_was_changed_is_written(page):
    """
    What somebody else changed meanwhile in another field stays.
    """
    part = opened_part(page, "a song")
    part.chosen.value = "Ferry"
    with opened() as diary:
        diary.change_song("Ferry", gear="brushes")
    part.fields.fields["minutes"].value = "4"
    press(page, "Save the song")

    assert ("brushes", 4.0) == tuple(now().songs.set_index("song").loc["Ferry", ["gear", "minutes"]])


def test_a_wrong_value_is_said_beside_its_field(page):
    """
    Nothing is written, and the sentence stands where the slip is.
    """
    part = opened_part(page, "a song")
    part.chosen.value = "Ferry"
    part.fields.fields["tempo_bpm"].value = "quick"
    part.fields.fields["gear"].value = "brushes"
    press(page, "Save the song")

    expected = "The `tempo_bpm` of a song cannot be 'quick'; it has to be a number over 0 and at most 400."
    assert expected == words(part.fields.said["tempo_bpm"]).replace("&#x27;", "'")
    assert "Nothing was saved: 1 field above cannot be so." == words(part.said)
    assert now().songs.gear.isna().all()


def test_a_cell_can_be_emptied(page):
    """
    A tempo that is not known after all.
    """
    part = opened_part(page, "a song")
    part.chosen.value = "Ferry"
    part.fields.fields["tempo_bpm"].value = ""
    press(page, "Save the song")

    assert now().songs.tempo_bpm.isna().all()


def test_a_new_song_can_be_added(page):
    """
    With its title and whatever is known.
    """
    part = opened_part(page, "a song")
    part.chosen.value = "a new song"
    part.fields.fields["song"].value = "Copper Wire"
    part.fields.fields["status"].value = "learning"
    press(page, "Save the song")

    assert "learning" == now().songs.set_index("song").status["Copper Wire"]
    assert "Copper Wire" == part.chosen.value


def test_after_a_merge_every_model_sees_one_song(page):
    """
    Plays, reviews, mistakes and rehearsals go along, and the layoff that was a slip of the pen is gone.
    """
    before = rotation.layoffs(now().plays, now().shows, now().songs).set_index("song").layoff_shows["Tin Rook"]
    part = opened_part(page, "one song under two titles")
    part.chosen.value, part.right.value = "Tinn Ruk", "Tin Rook"
    said = words(part.goes)
    press(page, "Merge")
    after = rotation.layoffs(now().plays, now().shows, now().songs).set_index("song").layoff_shows
    aliases = now().songs.set_index("song").aliases["Tin Rook"]
    press(page, "Undo")

    assert "1 performance, 1 run, 1 review, 1 mistake, 0 notes" in said
    assert (1, {"Ferry": 0, "Tin Rook": 0}) == (before, after.to_dict())
    assert "Tinn Ruk" == aliases
    assert {"Ferry", "Tin Rook", "Tinn Ruk"} == set(now().songs.song)


def test_in_short_follows_every_change(page):
    """
    Songs after a merge and after Undo, and rooms as soon as they are said.
    """
    said = [page.short.words]
    part = opened_part(page, "one song under two titles")
    part.chosen.value, part.right.value = "Tinn Ruk", "Tin Rook"
    press(page, "Merge")
    said.append(page.short.words)
    press(page, "Undo")
    said.append(page.short.words)
    page.what.value = list(edit.TABLES)[1]
    form = page.place.children[0]
    next(each for each in everything(form) if getattr(each, "description", "").startswith("All that")).value = "club"
    next(each for each in everything(form) if getattr(each, "description", "") == "Save the rooms").click()

    assert ["**3 songs", "**2 songs", "**3 songs"] == [each[:9] for each in said]
    assert "1 show has no kind of venue." in said[-1]
    assert "no kind of venue" not in page.short.words
    assert page.short.words == edit.in_short(now())


def test_a_song_is_not_merged_with_itself(page):
    """
    The same title twice is refused in words.
    """
    part = opened_part(page, "one song under two titles")
    part.chosen.value = part.right.value = "Ferry"
    press(page, "Merge")

    assert '"Ferry" and "Ferry" are one song already. Name two songs.' == words(part.said)


def test_a_played_set_is_corrected_after_the_fact(page):
    """
    The set stands there a line a song; a line is settled if it is no title, the encore is kept.
    """
    part = opened_part(page, "a set")
    shown = part.typed.value
    part.typed.value = "Tin Rook\nSomething Else Entirely\nENCORE\nFerry"
    press(page, "Save the set")
    asked = words(part.said)
    part.questions.asked["line 2"].chosen.value = "new"
    press(page, "Save the set")
    plays = now().plays
    last = plays[plays.show_id == plays.show_id.max()]

    assert "Tinn Ruk\nENCORE\nFerry" == shown
    assert "Not saved yet: settle the lines above, then save again." == asked
    assert ["Tin Rook", "Something Else Entirely", "Ferry"] == last.song.tolist()
    assert [False, False, True] == last.encore.tolist()
    assert (
        'The played set is saved: 3 songs. Reviews of "Tinn Ruk" stay; take them out under an entry if they are wrong.'
        == words(part.said)
    )


def test_a_show_is_moved_and_taken_out(page):
    """
    Another day and room are saved; taken out, it takes its set along; Undo brings all back.
    """
    part = opened_part(page, "a show")
    latest = part.chosen.label
    part.fields.fields["room"].value = "festival"
    part.fields.fields["city"].value = "Lurn"
    press(page, "Save the show")
    moved = now().shows.set_index("city").room["Lurn"]
    press(page, "Delete the show")
    left = (len(now().shows), len(now().plays), len(now().mistakes))
    press(page, "Undo")

    assert "14 Mar 2031: Kelp" == latest
    assert "festival" == moved
    assert (1, 2, 0) == left
    assert (2, 4, 1) == (len(now().shows), len(now().plays), len(now().mistakes))


def test_a_venues_room_reaches_its_shows(page):
    """
    The kind of venue is said once, for the place.
    """
    part = opened_part(page, "a venue")
    part.fields.fields["room"].value = "theatre"
    press(page, "Save the venue")

    assert "theatre" == now().shows.set_index("city").room["Ostby"]


@pytest.mark.parametrize(
    ("kind", "table", "left"),
    [
        ("a mistake", "mistakes", 0),
        ("a note", "notes", 0),
        ("a rehearsal", "rehearsals", 0),
        ("a review", "reviews", 1),
    ],
)
def test_an_entry_is_taken_out(page, kind, table, left):
    """
    The latest is offered first; Undo brings it back.
    """
    part = opened_part(page, "an entry")
    part.kind.value = kind
    before = len(getattr(now(), table))
    press(page, "Take it out")
    after = len(getattr(now(), table))
    press(page, "Undo")

    assert left == after
    assert before == len(getattr(now(), table))


def test_a_mistake_is_corrected(page):
    """
    Severity and bar, chosen by the song.
    """
    part = opened_part(page, "an entry")
    part.song.value = "Ferry"
    none = part.chosen.value
    part.song.value = "Tinn Ruk"
    part.fields["a mistake"].fields["severity"].value = 3
    part.fields["a mistake"].fields["bar"].value = "12"
    press(page, "Save the entry")

    assert none is None
    assert (3, 12, "entry") == tuple(now().mistakes.loc[0, ["severity", "bar", "kind"]])


def test_an_empty_choice_is_said(page):
    """
    Saving without a choice or a change gives a sentence.
    """
    part = opened_part(page, "an entry")
    part.song.value = "Tin Rook"
    press(page, "Take it out")
    first = words(part.said)
    other = opened_part(page, "a venue")
    press(page, "Save the venue")

    assert "Choose an entry first." == first
    assert "Nothing was changed." == words(other.said)


@pytest.mark.parametrize("name", [part.name for part in edit.PARTS])
def test_an_empty_diary_says_what_to_do(name):
    """
    No error, and a sentence, in each form.
    """
    with opened():
        pass
    page = edit.PutRight()
    part = opened_part(page, name)

    assert words(part.nothing) or name == "a song"
    assert "There is nothing to correct yet." in edit.in_short(now())


def test_the_demo_is_left_as_it_is_unless_asked_by_name(monkeypatch):
    """
    Who has no diary can look, not change; by name a copy of the demo may be tried out, but not undone away.
    """
    page = edit.PutRight()
    part = opened_part(page, "a song")
    part.fields.fields["gear"].value = "spoons"
    press(page, "Save the song")
    refused = words(part.said)
    press(page, "Undo")
    monkeypatch.setenv("TOURSTATS_DIARY", "demo")
    named = edit.PutRight()
    other = opened_part(named, "a song")
    press(named, "Undo")
    with opened(demo.path()) as diary:
        songs = diary.songs()

    assert refused.startswith("This is the demo tour")
    assert words(part.said).startswith("This is the demo tour")
    assert "There is nothing to undo." == words(other.said)
    assert 132 == len(songs)
    assert "spoons" not in set(songs.gear)


def test_every_column_can_be_put_right():
    """
    No column of songs, shows and venues is out of reach.
    """
    assert set(columns("songs")) == set(edit.SONG)
    assert set(columns("shows")) - {"show_id"} == set(edit.SHOW)
    assert set(columns("venues")) == set(edit.VENUE)


def test_what_may_be_one_song_is_offered_and_nothing_is_merged_twice(page):
    """
    The title played more often is the right one; after the merge nothing is chosen, and another press does nothing.
    """
    with opened() as diary:
        diary.add_song("Tinn Rook")
        diary.write_set(diary.add_show("2031-03-15", "Kelp"), ["Tin Rook"], stage="played")
    part = opened_part(page, "one song under two titles")
    part.likely.value = part.likely.options[1][1]
    offered = (part.chosen.value, part.right.value)
    press(page, "Merge")
    merged = sorted(now().songs.song)
    press(page, "Merge")

    assert ("Tinn Rook", "Tin Rook") == offered
    assert ["Ferry", "Tin Rook", "Tinn Ruk"] == merged == sorted(now().songs.song)
    assert "Choose the wrong title and the right one first." == words(part.said)


def test_what_is_missing_is_filled_in_one_table(page):
    """
    Only what a song lacks has a field; what is wrong is said beside it and nothing is saved; then all is one change.
    """
    page.what.value = next(iter(edit.TABLES))
    (box,) = page.place.children
    fields = {each.tooltip: each for each in everything(box) if getattr(each, "tooltip", None)}
    save = next(each for each in everything(box) if getattr(each, "description", "") == "Save all of it")
    fields["Length, minutes: Ferry"].value = "4.5"
    fields["Tempo, bpm: Tin Rook"].value = "quick"
    save.click()
    refused = now().songs.minutes.notna().any()
    fields["Tempo, bpm: Tin Rook"].value = "120"
    save.click()
    saved = now().songs.set_index("song")
    next(each for each in everything(box) if getattr(each, "description", "") == "Undo").click()

    assert "Tempo, bpm: Ferry" not in fields
    assert not refused
    assert (4.5, 120.0) == (saved.minutes["Ferry"], saved.tempo_bpm["Tin Rook"])
    assert now().songs.minutes.isna().all()
