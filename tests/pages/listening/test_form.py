"""The listening page, driven from Python: choosing, hearing, marking, moving, deleting."""

import html

import numpy as np
import pytest

from tests.recording import band
from tests.recording.files import written
from tourstats.diary import opened
from tourstats.pages.after_show.written_down import written_down
from tourstats.pages.kit.look import LIVE_ONLY
from tourstats.pages.kit.show_written import Night
from tourstats.pages.listening import form as forms

SONGS = [band.Song("Copper", "eights", 122.0, 62.0, seed=31), band.Song("Gravel", "floor", 134.0, 66.0, seed=33)]


@pytest.fixture(scope="module")
def sounds(tmp_path_factory):
    """Two nights of two songs."""
    folder = tmp_path_factory.mktemp("recording")
    shows = [band.show([band.tonight(song, night) for song in SONGS], night, "room") for night in (1, 2)]
    return [written(folder / f"{at}.wav", show.sound, band.RATE) for at, show in enumerate(shows)]


@pytest.fixture
def page(tmp_path, sounds):
    """The page on the second night, the first having been listened to."""
    path = tmp_path / "tour.sqlite"
    with opened(path) as diary:
        for song in SONGS:
            diary.add_song(song.title, tempo_bpm=song.bpm, minutes=song.seconds / 60)
            diary.set_sections(song.title, [{"name": "verse", "bars": 14}, {"name": "chorus", "bars": 14}])
        for day in ("2031-03-04", "2031-03-05"):
            show_id = diary.add_show(day, "Brackwater")
            diary.write_set(show_id, [song.title for song in SONGS], stage="played")
    forms.hearing.heard(path, 1, [sounds[0]])
    return forms.Listening(path)


@pytest.fixture
def heard(page, sounds):
    """The same, its own recording listened to, and the first song in the player."""
    page.file.value = str(sounds[1])
    page.listen()
    page.song.value = 1
    return page


def press(page, what, at=20.0):
    """Press a key of the player."""
    page.player.asks = {"what": what, "at": at, "n": page.player.asks.get("n", 0) + 1}


def read(page):
    """The diary."""
    with opened(page.found.path) as diary:
        return diary.read()


def test_listening_finds_the_songs_and_offers_them(heard):
    """
    What was found is said, listed, and can be heard.
    """
    assert "Saved: 2 of 2 songs placed for sure." in heard.heard_said.value
    assert {None, 1, 2} == set(dict(heard.song.options).values())
    assert "Copper" in heard.first.value
    assert heard.player.sound[:3] == b"ID3" or heard.player.sound[0] == 0xFF
    assert 122 == pytest.approx(np.median([bpm for _, bpm in heard.player.curve]), rel=0.06)
    assert ["verse", "chorus"] == [name for _, name in heard.player.sections]


def test_it_is_told_what_is_being_done(page, sounds):
    """
    Beside the bar: reading, finding, and the song that is being measured.
    """
    told = []
    page.work.doing.observe(lambda change: told.append(change["new"]), names="value")
    page.file.value = str(sounds[1])
    page.listen()

    assert ["Reading the recording", "Finding the songs", "Measuring Copper", "Measuring Gravel"] == [
        *dict.fromkeys(words.partition(":")[0] for words in told if words)
    ]


def test_a_mark_becomes_a_finding_with_its_moment_section_and_bar(heard):
    """
    M, words, Enter: song, moment, section and bar are in the diary, and the mark can be heard again.
    """
    press(heard, "mark", 45.0)
    heard.what.value = "dragged"
    heard.save()
    row = read(heard).mistakes.iloc[0]

    assert ("Copper", "tempo", "dragged", "chorus") == (row.song, row.kind, row.remark, row.section)
    assert heard.player.clip_from + 45.0 == pytest.approx(row.at_s, abs=0.1)
    assert 1 <= row.bar <= 14
    assert [[pytest.approx(45.0, abs=0.1), "tempo, dragged"]] == heard.player.marks


def test_a_mark_is_heard_from_where_the_finding_is_shown(heard, monkeypatch):
    """
    After the show links to the moment; the page that opens goes there, three seconds early.
    """
    press(heard, "mark", 45.0)
    heard.save()
    monkeypatch.setenv(LIVE_ONLY, "1")
    (entry,) = [one for one in written_down(Night(heard.found)) if one.hear]
    at = read(heard).mistakes.at_s.iloc[0]
    assert entry.hear == f"/listening?show=2&amp;at={at}"

    monkeypatch.setenv("QUERY_STRING", f"show=2&at={at}")
    opened_there = forms.Listening(heard.found.path)

    assert 1 == opened_there.song.value
    assert 42.0 == pytest.approx(opened_there.player.at, abs=0.2)


def test_another_likely_start_is_in_the_clip_and_one_press_away(heard):
    """
    Where a song was tried before it began, the clip starts earlier and the other start can be heard and set.
    """
    rows = read(heard).measured.query("show_id == 2").to_dict("records")
    start = rows[1]["start_s"]
    rows[1] |= {
        "sure": False,
        "why": f"it may also begin at 0:{(int(start) - 9) // 60:02d}:{(int(start) - 9) % 60:02d}",
    }
    with opened(heard.found.path) as diary:
        diary.set_measured(2, rows)
    page = forms.Listening(heard.found.path)
    page.song.value = 2

    assert [[pytest.approx(4.0), "it may also begin here ([ sets it)"]] == page.player.marks
    assert start - page.player.clip_from == pytest.approx(page.player.at)
    press(page, "start", 4.0)
    moved = read(page).measured.query("show_id == 2 and position == 2").iloc[0]
    assert (pytest.approx(int(start) - 9, abs=0.1), True) == (moved.start_s, bool(moved.moved))


def test_without_a_mark_nothing_is_saved(heard):
    """
    The page says which key to press.
    """
    heard.what.value = "dragged"
    forms.spoken(heard.save, heard.found_said)

    assert "Press M in the player" in heard.found_said.value
    assert 0 == len(read(heard).mistakes)


def test_the_earlier_show_is_one_key_away_and_back(heard):
    """
    The same place of the song, in the other recording; the same key comes back to the moment.
    """
    press(heard, "earlier", 30.0)
    assert "at the earlier show" in heard.player.title
    assert 30.0 == pytest.approx(heard.player.at, abs=4)

    press(heard, "mark", 30.0)
    assert "This is the earlier show" in heard.said.value

    press(heard, "earlier", 30.0)
    assert (pytest.approx(30.0), 1) == (heard.player.at, heard.song.value)
    assert "at the earlier show" not in heard.player.title


def test_next_and_previous_go_by_the_set(heard):
    """
    From the last song there is no next.
    """
    press(heard, "next")
    assert 2 == heard.song.value
    press(heard, "next")
    assert "That was the last song." in heard.said.value
    press(heard, "previous")
    assert 1 == heard.song.value


def test_a_start_is_moved_with_one_key(heard):
    """
    The start is where the clip was, sure, and measured again; the other song keeps its figures.
    """
    before, clips = read(heard).measured, heard.player.clips
    press(heard, "start", 10.0)
    after = read(heard).measured
    row, other = after[(after.show_id == 2)].iloc

    assert before[before.show_id == 2].start_s.iloc[0] - 4 + 10 == pytest.approx(row.start_s, abs=0.2)
    assert (True, True, True) == (bool(row.moved), bool(row.sure), bool(row.tempo_sure))
    assert before.tempo_bpm.iloc[-1] == other.tempo_bpm
    # The sound in the player is the same: it is not cut again, and goes on where it was.
    assert clips == heard.player.clips
    assert row.start_s - heard.player.clip_from == pytest.approx(heard.player.lead)


def test_deleting_leaves_nothing_but_the_file(heard, sounds):
    """
    One press: figures, curves and the path are gone; the sound is not touched, the other show keeps its own.
    """
    size = sounds[1].stat().st_size
    heard.delete()
    tour = read(heard)
    with opened(heard.found.path) as diary:
        kept = diary.kept()

    assert {1} == set(tour.measured.show_id) == set(kept.show_id)
    assert tour.shows.recording.isna().tolist() == [False, True]
    assert size == sounds[1].stat().st_size


def test_a_folder_offers_its_newest_and_takes_what_is_of_the_day(page, sounds, tmp_path):
    """
    A folder is not listened to at once: its recordings are offered, and those of the show's day stand in the field.
    """
    page.file.value = str(sounds[0].parent)
    forms.spoken(page.listen, page.heard_said)
    offered = {name for name, _ in page.files.options[1:]}
    (tmp_path / "desk").mkdir()
    (tmp_path / "desk" / "2031-03-05 set.wav").touch()
    none = page.heard_said.value
    page.file.value = str(tmp_path / "desk")
    forms.spoken(page.listen, page.heard_said)

    assert "by name or by when it was saved" in none
    assert {"0.wav", "1.wav"} == offered
    assert 'day there is "2031-03-05 set.wav".' in html.unescape(page.heard_said.value)
    assert str(tmp_path / "desk" / "2031-03-05 set.wav") == page.file.value


def test_both_cautions_stand_on_the_page(page):
    """
    Other people's recording where it is chosen; ears where it is heard, deferring to professionals.
    """
    said = " ".join(part.value for part in page.box.children if isinstance(part, forms.w.HTML))

    assert "ask before you pass it on" in said
    assert "see a doctor or an audiologist" in said
