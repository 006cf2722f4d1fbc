"""The diary as people use it: what is saved, what is refused, and in which words."""

import subprocess
import sys
from datetime import date

import numpy as np
import pandas as pd
import pytest

from tests.diary.reads import assert_same
from tourstats import tables
from tourstats.diary import DiaryProblem, exists, opened, where
from tourstats.problems import Problem, TableProblem, UnknownShowProblem, UnknownSongProblem


def test_frames_are_what_the_tables_describe(book, fill):
    """
    Straight from SQL, each frame has the columns, types and values that a full check would give, empty or not.
    """
    for moment in ("empty", "filled"):
        read = book.read()
        for name, frame in read:
            names = tables.columns(frame.table)

            assert names == list(frame.columns)[: len(names)], (moment, name)
            pd.testing.assert_frame_equal(
                tables.checked(frame.copy(), frame.table), frame.copy(), obj=f"{moment} {name}"
            )
        if moment == "empty":
            fill(book)


def test_numbers_of_rows_stand_beside_what_forms_change(book):
    """
    Mistakes, notes and rehearsals carry the number by which they are changed.
    """
    assert "mistake_id" == book.mistakes().columns[-1]
    assert "note_id" == book.notes().columns[-1]
    assert "rehearsal_id" == book.rehearsals().columns[-1]


def test_what_is_saved_is_there_when_opened_again(path, fill):
    """
    Closing and opening changes nothing.
    """
    with opened(path) as book:
        fill(book)
        before = book.read()
    with opened(path) as book:
        after = book.read()

    assert len(after.plays) > 0
    assert_same(before, after)


def test_a_read_is_of_one_moment(path, fill):
    """
    What somebody else saves between two tables of one read is in neither.
    """
    with opened(path) as mine, opened(path) as other:
        fill(mine)
        with mine.one_moment():
            songs = mine.songs()
            other.add_song("Salt Road")
            titles = set(mine.songs().song)
        later = mine.songs()

    assert set(songs.song) == titles
    assert "Salt Road" in set(later.song)


def test_plays_follow_the_shows_not_their_numbers(book):
    """
    A show entered later and played earlier comes first; two of a day go by their number.
    """
    book.add_song("Ferry")
    late = book.add_show("2031-03-09", "Fennick")
    evening = book.add_show("2031-03-04", "Brackwater", number=2)
    noon = book.add_show("2031-03-04", "Brackwater")
    for show_id in (late, evening, noon):
        book.write_set(show_id, ["Ferry"], stage="played")

    assert [noon, evening, late] == book.plays().show_id.tolist()
    assert [noon, evening, late] == book.shows().show_id.tolist()


def test_legs_say_from_when_to_when(book):
    """
    Shows within three weeks share a leg; after a longer break a new one begins; earlier ones join the next.
    """
    book.add_song("Ferry")
    first = book.add_show("2031-03-04", "Brackwater")
    book.add_show("2031-03-25", "Fennick")
    book.add_show("2031-04-16", "Ostry")
    book.add_show("2031-02-20", "Lowquern")
    book.write_set(first, ["Ferry"], stage="played")

    legs = book.legs()

    assert ["leg 1", "leg 2"] == legs.leg.tolist()
    assert [pd.Timestamp("2031-02-20"), pd.Timestamp("2031-04-16")] == legs["first"].tolist()
    assert [pd.Timestamp("2031-03-25"), pd.Timestamp("2031-04-16")] == legs["last"].tolist()
    assert [3, 1] == legs.shows.tolist()
    assert [1, 0] == legs.played.tolist()


def test_no_legs_yet(book):
    """
    An empty diary has an empty table of legs.
    """
    assert ["leg", "first", "last", "shows", "played"] == list(book.legs().columns)
    assert 0 == len(book.legs())


def test_a_leg_name_that_is_taken_is_passed_over(book):
    """
    The name of a new leg is one that no leg has.
    """
    book.add_show("2031-03-04", "Brackwater", leg="leg 2")
    book.add_show("2031-06-04", "Brackwater")

    assert ["leg 2", "leg 3"] == book.shows().leg.tolist()


def test_a_known_venue_gives_town_and_room(book):
    """
    Town and room that are not said come from the venue; a correction there reaches its shows.
    """
    book.add_show("2031-03-04", "Brackwater", "club", venue="The Old Mill")
    book.add_show("2031-03-05", venue="the old mill")
    book.add_show("2031-03-06", venue="The Old Mill", room="festival")
    book.change_venue("The Old Mill", room="theatre", city="Brackmouth")

    shows = book.shows()

    assert ["Brackmouth"] * 3 == shows.city.tolist()
    assert ["theatre", "theatre", "festival"] == shows.room.tolist()
    assert ["The Old Mill"] == book.venues().venue.tolist()


def test_two_towns_may_have_a_place_of_one_name(book):
    """
    The second place is kept under its name and town, and found again.
    """
    book.add_show("2031-03-04", "Brackwater", "club", venue="Town Hall")
    for day in ("2031-03-05", "2031-03-06"):
        book.add_show(day, "Fennick", "arena", venue="Town Hall")

    assert ["Town Hall", "Town Hall, Fennick"] == book.venues().venue.tolist()
    assert ["club", "arena", "arena"] == book.shows().room.tolist()


def test_a_show_twice_is_named_by_its_number(book):
    """
    The same day, town and number is the same show, however the town is written.
    """
    show_id = book.add_show("2031-03-04", "Brackwater")

    with pytest.raises(Problem) as caught:
        book.add_show(date(2031, 3, 4), " brackwater ")

    assert str(caught.value) == (
        f"The show of 2031-03-04 in Brackwater is in the diary already, as show {show_id}. "
        "Use that number; if it is another show of the same day, add it with number=2."
    )
    assert 2 == book.add_show("2031-03-04", "Brackwater", number=2)


def test_an_unknown_title_is_asked_about(book):
    """
    A set with a title that is not in the repertoire is not written at all.
    """
    for title in ("Ferry", "Copper Wire"):
        book.add_song(title)
    show_id = book.add_show("2031-03-04", "Brackwater")

    with pytest.raises(UnknownSongProblem) as caught:
        book.write_set(show_id, ["Ferry", "Coper Wire"], stage="played", pasted="Ferry\nCoper Wire")

    assert str(caught.value) == (
        'Song 2 of the set: "Coper Wire" is not in the repertoire. The nearest in the repertoire: "Copper Wire". '
        "Correct the title, add it as another name of a song, or add it as a new song."
    )
    assert 0 == len(book.plays())
    assert 0 == len(book.pasted())


def test_a_title_is_found_in_any_case_and_by_its_other_names(book):
    """
    Letter case, spaces and other names lead to the song; a name that fits two songs does not.
    """
    book.add_song("Ferry", aliases=["The Boat", "TF"])
    book.add_song("Tin Floor", aliases="TF")
    show_id = book.add_show("2031-03-04", "Brackwater")

    book.write_set(show_id, ["FERRY ", "the boat"])

    assert ["Ferry", "Ferry"] == book.plays("planned").song.tolist()
    with pytest.raises(UnknownSongProblem):
        book.write_set(show_id, ["TF"])


def test_one_title_is_one_song(book):
    """
    "salt road " is the song "Salt Road", not a second one.
    """
    book.add_song("Salt Road")

    with pytest.raises(Problem) as caught:
        book.add_song(" salt  road ")

    assert '"Salt Road" is in the repertoire already. Change that song, or take another title.' == str(caught.value)


def test_a_set_replaces_the_one_before_and_every_text_is_kept(book):
    """
    The last set written stands; both texts it came from can be read, as they came.
    """
    for title in ("Ferry", "Tin Rook"):
        book.add_song(title)
    show_id = book.add_show("2031-03-04", "Brackwater")
    book.write_set(show_id, ["Ferry"], pasted="  ferry\r\n")
    book.write_set(show_id, ["Tin Rook", "Ferry"], pasted="tin rook / ferry", encore_from=2)

    assert ["Tin Rook", "Ferry"] == book.plays("planned").song.tolist()
    assert [False, True] == book.plays("planned").encore.tolist()
    assert ["  ferry\r\n", "tin rook / ferry"] == book.pasted().text.tolist()


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (
            lambda b: b.add_mistake(1, "Ferry", "entry", 4),
            "The `severity` of a mistake cannot be 4; it has to be one of 1, 2, 3.",
        ),
        (
            lambda b: b.add_mistake(1, "Ferry", "entry", 1, cause="luck"),
            "The `cause` of a mistake cannot be 'luck'; it has to be one of playing, sound, feel.",
        ),
        (
            lambda b: b.add_mistake(1, "Ferry", "entry", 1, bar=-1),
            "The `bar` of a mistake cannot be -1; it has to be a whole number of at least 0.",
        ),
        (
            lambda b: b.add_rehearsal("Ferry", "couch"),
            "The `way` of a rehearsal cannot be 'couch'; it has to be one of listen, pad, kit, band.",
        ),
        (
            lambda b: b.add_show("9031-03-04", "Fennick"),
            "The `date` of a show cannot be '9031-03-04'; it has to be a day such as 2031-03-04.",
        ),
        (
            lambda b: b.add_show("4.3.2031", "Fennick"),
            "The `date` of a show cannot be '4.3.2031'; it has to be a day such as 2031-03-04.",
        ),
        (
            lambda b: b.add_show(None, "Fennick"),
            "The `date` of a show has to be filled in; it is a day such as 2031-03-04.",
        ),
        (
            lambda b: b.add_show("2031-05-04", "Fennick", room="barn"),
            "The `room` of a show cannot be 'barn'; it has to be one of theatre, arena, club, festival, studio, other.",
        ),
        (
            lambda b: b.change_song("Ferry", tempo_bpm=0),
            "The `tempo_bpm` of a song cannot be 0; it has to be a number over 0 and at most 400.",
        ),
        (
            lambda b: b.change_song("Ferry", tempo=90),
            (
                'A song has no "tempo". It has: song, aliases, status, since, new_release, tempo_bpm, minutes, '
                "starts_by, count_in, speech, gear, samples, track, track_by, track_fails, readiness, watch, "
                "reference, reference_now."
            ),
        ),
        (lambda b: b.add_song("  "), "The `song` of a song has to be filled in; it is text."),
        (
            lambda b: b.add_note("loud", about="transition", song="Ferry"),
            "A note about a transition needs the song that follows. Add it, or say what the note is about.",
        ),
        (
            lambda b: b.add_note("loud"),
            "A note about a song needs the song. Add it, or say what the note is about.",
        ),
        (
            lambda b: b.write_set(1, ["Ferry"], encore_from=2),
            "The encore cannot start at song 2: the set has 1. Name a position within the set.",
        ),
        (
            lambda b: b.write_set(1, ["Ferry"], stage="dreamt"),
            "The `stage` of a set cannot be 'dreamt'; it has to be one of planned, played.",
        ),
        (
            lambda b: b.add_review(1, "all"),
            "Show 1 has no played set yet. Save what was played first, then review it.",
        ),
        (
            lambda b: b.add_counts(1, 10, 1, 11),
            "11 came back of 10 in all; it cannot be more than all.",
        ),
        (
            lambda b: b.add_counts(1, 10, 1, 1),
            "Show 1 is not earlier than show 1. Name the show that came first.",
        ),
        (
            lambda b: b.remove_note(5),
            "There is no note with the number 5. Look at the table of notes for its number.",
        ),
        (
            lambda b: b.change_venue("The Old Mill", room="club"),
            'There is no venue "The Old Mill" in the diary. Look at the list of venues for its name.',
        ),
        (
            lambda b: b.merge_songs("Ferry", "FERRY"),
            '"Ferry" and "FERRY" are one song already. Name two songs.',
        ),
    ],
)
def test_what_is_refused_is_explained(book, make, sentence):
    """
    A wrong value is answered with what it may be, and nothing is changed.
    """
    book.add_song("Ferry")
    book.add_show("2031-03-04", "Brackwater")
    before = book.read()

    with pytest.raises(Problem) as caught:
        make(book)

    assert sentence == str(caught.value)
    assert_same(before, book.read())


@pytest.mark.parametrize("show_id", [7, "7", "tonight", None, 1.5, 10**30])
def test_an_unknown_show_is_named(book, show_id):
    """
    Whatever is given in the place of a show's number, it is a sentence, not an error of ours.
    """
    with pytest.raises(UnknownShowProblem) as caught:
        book.write_set(show_id, [])

    assert str(caught.value).startswith(f"There is no show {show_id} in the diary.")


def test_numbers_from_frames_are_numbers(book):
    """
    NumPy's numbers, as they come out of a table, do as well as Python's.
    """
    book.add_song("Ferry", tempo_bpm=np.float64(96), new_release=np.bool_(True))  # the value itself
    show_id = book.add_show(pd.Timestamp("2031-03-04 20:00"), "Brackwater", number=np.int64(1), set_minutes=np.nan)
    book.write_set(np.int64(show_id), ["Ferry"], stage="played", encore_from=np.float64(1))

    assert [True] == book.plays().encore.tolist()
    assert [True] == book.songs().new_release.tolist()
    assert [pd.Timestamp("2031-03-04")] == book.shows().date.tolist()


def test_a_mistake_means_that_the_song_was_reviewed(book):
    """
    Writing a mistake down in a second listening is a second review of that song alone.
    """
    for title in ("Ferry", "Tin Rook"):
        book.add_song(title)
    show_id = book.add_show("2031-03-04", "Brackwater")
    book.write_set(show_id, ["Tin Rook", "Ferry", "Ferry"], stage="played")
    book.add_review(show_id, "all")
    book.add_review(show_id, "Ferry")
    book.add_mistake(show_id, "Ferry", None, 1, listening=2)

    expected = [("Tin Rook", 1), ("Ferry", 1), ("Ferry", 2)]
    assert expected == list(zip(book.reviews().song, book.reviews().listening, strict=True))


def test_runs_of_one_day_and_way_add_up(book):
    """
    A row a song, day and way: more runs are added to it.
    """
    book.add_song("Ferry")
    one = book.add_rehearsal("Ferry", "kit", "2031-03-04", minutes=5)
    two = book.add_rehearsal("Ferry", "kit", "2031-03-04", runs=3)
    book.add_rehearsal("Ferry", "pad", "2031-03-04")

    assert one == two
    assert [4, 1] == book.rehearsals().runs.tolist()
    assert 5 == book.rehearsals().minutes[0]
    assert np.isnan(book.rehearsals().minutes[1])


def test_a_renamed_song_keeps_its_history(book, fill):
    """
    Plays, mistakes and notes are the song's, whatever it is called.
    """
    fill(book)
    plays = (book.plays().song == "Ferry").sum()
    book.change_song("Ferry", song="Noon Ferry", starts_by="bass")

    assert plays == (book.plays().song == "Noon Ferry").sum()
    assert ["Noon Ferry"] == book.mistakes().song.tolist()
    assert "Noon Ferry" in book.notes().song.tolist()


def test_merged_songs_share_one_history(book, fill):
    """
    Everything of the wrong song goes to the right one, nothing twice, and the wrong title finds it from then on.
    """
    first, _ = fill(book)
    book.add_song("Fery", aliases=["Boat; FE"])
    book.write_set(first, ["Fery", "Tin Rook"], stage="played")
    book.add_mistake(first, "Fery", "form", 1)
    book.add_rehearsal("Fery", "kit", "2031-03-03", runs=1, minutes=0.5)
    book.add_note("slow", about="transition", song="Tin Rook", next_song="Fery")
    book.merge_songs("Fery", "Ferry")

    assert "Fery" not in set(book.songs().song)
    assert "The Ferry; Fery; Boat; FE" == book.songs().aliases[0]
    assert ["Ferry", "Tin Rook"] == book.plays().query("show_id == @first").song.tolist()
    assert ["Ferry", "Ferry"] == book.mistakes().song.tolist()
    assert [(3, 10.0)] == list(zip(book.rehearsals().runs, book.rehearsals().minutes, strict=True))
    assert 1 == (book.reviews().song == "Ferry").sum()
    assert "Ferry" == book.notes().next_song.iloc[-1]


def test_a_removed_show_takes_its_sets_along_and_leaves_notes_on_songs(book, fill):
    """
    Sets, reviews, mistakes, counts and its own note go; a note on a song made there stays.
    """
    first, second = fill(book)
    book.add_note("soft sticks", song="Ferry", show_id=first)
    book.remove_show(first)
    read = book.read()

    assert [second] == read.shows.show_id.tolist()
    assert {second} == set(read.plays.show_id)
    assert 0 == len(read.planned) + len(read.reviews) + len(read.mistakes) + len(read.counts)
    assert ["count it in", "no gap", "soft sticks"] == read.notes.text.tolist()
    assert read.notes.show_id.isna().all()


def test_a_show_moves_to_another_place(book, fill):
    """
    Another venue gives its room; a town that is not said stays.
    """
    _, second = fill(book)
    book.change_show(second, venue="The Old Mill", city="Brackwater")
    book.change_show(second, set_minutes=80, number=2, date="2031-03-04")
    moved = book.shows().set_index("show_id").loc[second]

    assert ("theatre", "Brackwater", "The Old Mill", 80, 2) == tuple(
        moved[["room", "city", "venue", "set_minutes", "number"]]
    )
    with pytest.raises(Problem, match="in the diary already"):
        book.change_show(second, number=1)
    book.change_show(second, venue=None, room="club")

    assert "club" == book.shows().set_index("show_id").room[second]
    assert pd.isna(book.shows().set_index("show_id").venue[second])


def test_mistakes_notes_rehearsals_and_reviews_are_corrected(book, fill):
    """
    Each is found by the number that its table shows.
    """
    first, _ = fill(book)
    mistake, note, run = book.mistakes().mistake_id[0], book.notes().note_id[0], book.rehearsals().rehearsal_id[0]
    book.change_mistake(mistake, song="Tin Rook", severity=3, section=None, listening=2)
    book.change_note(note, text="count it in twice", room="")
    book.remove_rehearsal(run)

    assert ("Tin Rook", 3) == tuple(book.mistakes().loc[0, ["song", "severity"]])
    assert pd.isna(book.mistakes().section[0])
    assert 1 == len(book.reviews().query("song == 'Tin Rook' and listening == 2"))
    assert ("count it in twice", "Ferry") == tuple(book.notes().loc[0, ["text", "song"]])
    assert pd.isna(book.notes().room[0])
    assert 0 == len(book.rehearsals())
    with pytest.raises(Problem, match="needs the song that follows"):
        book.change_note(note, about="transition")
    book.remove_note(note)
    book.remove_mistake(mistake)
    book.remove_review(first, "all")

    assert 2 == len(book.notes())
    assert 0 == len(book.mistakes())
    assert [2] == book.reviews().listening.tolist()


def test_text_is_one_way_of_writing(book):
    """
    Accents are composed, ends stripped, and what no file can hold is replaced.
    """
    book.add_song("Cafe\u0301 \ud800Song\0", watch="  two\nlines ")

    assert "Caf\u00e9 ?Song" == book.songs().song[0]
    assert "two\nlines" == book.songs().watch[0]


def test_people_are_hashed_before_anything_is_written(path, fill, tmp_path):
    """
    A name that was given is nowhere in the file; the same person is the same hash; the key is its owner's alone.
    """
    with opened(path) as book:
        first, second = fill(book)
        book.add_attendance(pd.DataFrame({"person": ["Ticket-7731-Ola"] * 2, "show_id": [first, second]}))
        people = book.attendance().person

    assert 3 == people.nunique()
    assert people.str.fullmatch("[0-9a-f]{32}").all()
    for file in path.parent.rglob("*"):
        assert not file.is_file() or b"Ticket-7731" not in file.read_bytes(), file
    assert 0o600 == (tmp_path / "own" / "people.key").stat().st_mode & 0o777


def test_attendance_twice_adds_nothing(book, fill):
    """
    The number of new rows is given.
    """
    first, _ = fill(book)
    people = pd.DataFrame({"person": ["a", "z"], "show_id": [first, first]})

    assert 1 == book.add_attendance(people)
    assert 0 == book.add_attendance(people)
    with pytest.raises(TableProblem, match=r"is not a hash\. Leave `hashed` out") as caught:
        book.add_attendance(people.assign(person="ola@brackwater"), hashed=True)
    assert "ola" not in str(caught.value)
    with pytest.raises(TableProblem, match="needs the column `show_id`"):
        book.add_attendance(people[["person"]])


def test_drafts_outlive_the_program_and_are_no_change(path):
    """
    What was typed but not saved is there again, and undo does not know of it.
    """
    with opened(path) as book:
        book.add_song("Ferry")
        book.save_draft("after show 1", {"text": "fery", "ticks": [1, 2]})
        book.save_draft("after show 1", {"text": "ferry", "ticks": [1]})
    with opened(path) as book:
        assert {"text": "ferry", "ticks": [1]} == book.draft("after show 1")
        assert 'Undone: the new song "Ferry".' == book.undo()
        assert book.draft("after show 1") is not None

        book.drop_draft("after show 1")
        assert book.draft("after show 1") is None


def test_where_the_diary_lies(tmp_path, monkeypatch):
    """
    The path given, else TOURSTATS_DIARY, else a file in the user's data folder; asking makes nothing.
    """
    assert tmp_path / "own" / "diary.sqlite" == where()
    assert tmp_path / "x" == where(tmp_path / "x")
    monkeypatch.delenv("TOURSTATS_DIARY")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))

    assert ("tourstats", "diary.sqlite") == where().parts[-2:]
    assert not exists()
    with opened(tmp_path / "new" / "folder" / "d.sqlite"):
        assert exists(tmp_path / "new" / "folder" / "d.sqlite")


def test_opening_the_diary_loads_nothing_heavy():
    """
    Statistics, charts and matching are loaded by those who need them.
    """
    code = (
        "import sys, tempfile\nfrom tourstats.diary import opened\n"
        "with tempfile.TemporaryDirectory() as d, opened(d + '/d.sqlite') as book: book.read()\n"
        "print(sorted({'scipy', 'statsmodels', 'altair', 'ipywidgets'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert "[]" == done.stdout.strip()


def test_locked_for_too_long(path):
    """
    A change waits for its turn; if that never comes, it says so, and can be made again.
    """
    with opened(path) as one, opened(path, patience_s=0.1) as two:
        with one.atomic("a long one"):
            one.add_song("Ferry")
            with pytest.raises(DiaryProblem) as caught:
                two.add_song("Tin Rook")
            songs_seen = two.songs().song.tolist()
        two.add_song("Tin Rook")
        titles = one.songs().song.tolist()

    assert str(caught.value) == (
        f"The diary {path} has been in use by another program for too long. Close the other notebook or wait for it "
        "to finish, then try again; nothing was changed."
    )
    assert [] == songs_seen
    assert ["Ferry", "Tin Rook"] == titles


def test_the_rest_of_whole_shows_was_clean(book, fill):
    """
    One press for several shows: every song of their sets is reviewed, what was found stays, and undo takes it back.
    """
    fill(book)
    before = book.reviews()
    heard = book.plays().drop_duplicates(["show_id", "song"])
    more = len(heard) - len(before[before.listening == 1])

    assert more == book.rest_was_clean(heard.show_id.unique())
    assert len(heard) == (book.reviews().listening == 1).sum()
    assert 0 == book.rest_was_clean(heard.show_id.unique())
    book.undo()
    assert before.equals(book.reviews())


def test_a_figure_of_ones_own_is_kept_changed_and_taken_back(book):
    """
    "heard more": the latest counts, undo brings the one before back, and a figure has to be over 0.
    """
    book.set_figure("heard more", 3)
    book.set_figure("heard more", 1.5)

    assert [("heard more", 1.5)] == [*book.settings().itertuples(index=False, name=None)]
    book.undo()
    assert [3] == book.read().settings.figure.tolist()
    with pytest.raises(TableProblem):
        book.set_figure("heard more", 0)
