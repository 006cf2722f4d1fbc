"""What is said on tonight's set is found again wherever the set is."""

import html

import pandas as pd
import pytest

from tourstats.cli import main
from tourstats.diary import export, opened
from tourstats.models import tonight
from tourstats.pages import sheet
from tourstats.pages.after_show.played import Played
from tourstats.pages.kit.show_written import Night, as_lines
from tourstats.pages.show_day import on_screen, words
from tourstats.pages.workbook import whose

SET = """1. Gravel Pylon (short intro) >
2. Walrus Parade - half time, no click
3. Cobalt Hotel [down a step] ->
4. Mustard Theory
5. Bishop Syndrome (acoustic, Odile starts)
ENCORE
6. Tariff Lullaby w/ strings
"""
REMARKS = ["short intro", "half time, no click", "down a step", "acoustic, Odile starts", "w/ strings"]
SEGUES = ["Gravel Pylon", "Cobalt Hotel"]


@pytest.fixture
def planned(tmp_path, capsys):
    """A diary with one set typed by the command, and what the command said."""
    path, text = tmp_path / "tour.sqlite", tmp_path / "set.txt"
    text.write_text(SET, encoding="utf-8")
    asked = ["tonight", str(text), "--date", "2031-03-04", "--city", "Ostby", "--sheets", str(tmp_path)]
    assert 0 == main(["--diary", str(path), *asked])
    return path, capsys.readouterr().out


def texts(path):
    """Everything that shows the set of the one show, by where it is shown."""
    with opened(path) as diary:
        tour = diary.read()
    brief = tonight.brief(tour, 1)
    made = sheet.stage_sheet(brief, path.parent, machine_fonts=False)
    return {
        "all that is known": words.as_text(brief, width=500),
        "the page": html.unescape(on_screen.day(brief)),
        "transitions": " ".join(brief.transitions.reasons),
        "the sheet, also on a telephone": html.unescape(made.html.read_text(encoding="utf-8")),
        "a set to correct": "\n".join(as_lines(tour.planned)),
    }


def test_every_remark_is_found_again(planned):
    """
    On the terminal, the page, the sheet, under transitions, and where the set is corrected.
    """
    path, printed = planned
    # The last song has a transition neither before it nor behind it: the encore stands apart.
    missing = {
        where: [remark for remark in REMARKS[: -1 if where == "transitions" else None] if remark not in text]
        for where, text in {"the terminal": printed, **texts(path)}.items()
    }

    assert {} == {where: remarks for where, remarks in missing.items() if remarks}


def test_every_segue_is_found_again(planned):
    """
    A sign behind the title, and "segue" under transitions.
    """
    path, printed = planned
    shown = texts(path)

    assert all(f"{song} >" in printed and f"{song} >" in shown["the sheet, also on a telephone"] for song in SEGUES)
    assert len(SEGUES) == shown["transitions"].count("segue, no gap") == shown["the page"].count("class='segue'")


def test_played_as_planned_keeps_what_was_said(planned):
    """
    After the show the remarks and segues are with the songs that were played, in the history and in the export.
    """
    path, _ = planned
    form = Played(Night(whose(path)))
    form.night.read(1)
    form.as_planned()
    with opened(path) as diary:
        plays = diary.plays()
        export(path.parent / "out", diary)
    exported = pd.read_csv(path.parent / "out" / "plays.csv")

    for table in (plays, exported):
        assert REMARKS == table.remark.dropna().tolist()
        assert SEGUES == table.song[table.segue.isin([True, "yes", "True", 1])].tolist()


def test_a_bare_word_is_asked_about_once(tmp_path, capsys):
    """
    The answer is another name of the song from then on.
    """
    path, text = str(tmp_path / "tour.sqlite"), tmp_path / "set.txt"
    with opened(path) as diary:
        for song in ("Marrow Picnic", "Old Marrow", "Gravel Pylon"):
            diary.add_song(song)
    text.write_text("Gravel Pylon\nMarrow\n", encoding="utf-8")
    asked = ["--diary", path, "tonight", str(text), "--city", "Ostby", "--sheets", str(tmp_path)]

    assert 1 == main(asked)
    assert 0 == main([*asked, "--song", "2=Old Marrow"])
    assert 0 == main(asked)
    with opened(path) as diary:
        assert ["Gravel Pylon", "Old Marrow"] == diary.plays("planned").song.tolist()
    capsys.readouterr()


def test_another_town_is_another_show_and_what_is_said_later_is_filled_in(tmp_path, capsys):
    """
    The set of that day's other show stays; room and venue are written down when they are known.
    """
    path, text = str(tmp_path / "tour.sqlite"), tmp_path / "set.txt"
    asked = ["--diary", path, "tonight", str(text), "--date", "2031-03-04", "--sheets", str(tmp_path)]
    text.write_text("Gravel Pylon\nWalrus Parade\n", encoding="utf-8")
    assert 0 == main([*asked, "--city", "Ostby"])
    text.write_text("Walrus Parade\nGravel Pylon\n", encoding="utf-8")
    assert 0 == main([*asked, "--city", "Tarnholt"])
    assert 1 == main(asked)
    said = capsys.readouterr().err
    assert 0 == main([*asked, "--city", "Tarnholt", "--venue", "Tithe Shed", "--room", "theatre"])
    with opened(path) as diary:
        shows, plays = diary.shows(), diary.plays("planned")

    assert "There is more than one show on 4 March 2031. Say which: --show 1" in said
    assert ["Ostby", "Tarnholt"] == shows.city.tolist()
    assert ["Gravel Pylon", "Walrus Parade"] == plays.song[plays.show_id == shows.show_id[0]].tolist()
    assert ("Tithe Shed", "theatre") == (shows.venue[1], shows.room[1])
