"""The lists in words, on paper, in the command, and ticked off on the page."""

import pypdfium2 as pdfium
import pytest

from tests.models.test_lists import PRIVATE, brief, tour  # noqa: F401  # fixtures
from tourstats.cli import FOR, main
from tourstats.diary import opened
from tourstats.models import tonight
from tourstats.pages.kit.whose import whose
from tourstats.pages.lists import printed, words
from tourstats.pages.lists.form import Lists


@pytest.mark.parametrize("whom", words.WHOM)
def test_nothing_personal_stands_on_a_shared_list(whom, brief, tmp_path):  # noqa: F811  # a fixture
    """
    Every song is named on the paper of whoever needs it, and no private word is on the message or the paper.
    """
    made = words.listed_for(brief, whom)
    place = printed.write(made, tmp_path, "2031-03-16")
    with pdfium.PdfDocument(place) as paper:
        text = " ".join(page.get_textpage().get_text_bounded() for page in paper)

    assert len(made.lines) >= 3
    assert PRIVATE not in words.as_message(made) + text
    assert made.heading in text
    assert all(line.what.split()[0] in text for line in made.lines)


def test_a_list_says_what_is_done_by_whom(brief):  # noqa: F811  # a fixture
    """
    One line of each kind, whole.
    """
    lines = {whom: [(line.what, line.more) for line in words.listed_for(brief, whom).lines] for whom in words.WHOM}

    assert ("3 > 4  Qx Rook > Qx New", "never played, segue, tempo 60 to 100 · count-in: piano · 1.5 min") == lines[
        "band"
    ][0]
    assert (
        "after 1: brushes in; track click armed",
        "for Qx Wire · by Teo, switch · if it fails: straight on, drums count",
    ) == lines["technician"][1]
    assert ("1 > 2  Qx Ferry > Qx Wire", "tempo 100 to 104 · count-in: drums · played 12 times") == lines["director"][0]
    assert ("fan", "every night") == lines["doors"][-1]


def test_the_lists_offered_are_those_there_are():
    """
    The command names the same lists without loading them.
    """
    assert words.WHOM == FOR


@pytest.fixture
def path(tmp_path, monkeypatch):
    """A diary with one planned show."""
    place = tmp_path / "own.sqlite"
    monkeypatch.setenv("TOURSTATS_DIARY", str(place))
    with opened(place) as book:
        book.add_song("Qx Ferry", gear="castanets")
        show = book.add_show("2031-03-04", "Ostby")
        book.write_set(show, ["Qx Ferry"])
    return place


def test_a_tick_is_kept_and_taken_back(path):
    """
    Ticked in the form it is in the diary and in the message; taken out it is gone; undo brings it back.
    """
    with opened(path) as book:
        made = Lists(whose(path), lambda: None)
        made.show(tonight.brief(book.read(), 1))
    (box,) = made.lines.children
    box.value = True
    with opened(path) as book:
        kept = book.ticks().thing.tolist()
    said = made.message.value
    box.value = False
    with opened(path) as book:
        gone = book.ticks().thing.tolist()
        undone = book.undo()
        back = book.ticks().thing.tolist()

    assert (["castanets"], [], ["castanets"]) == (kept, gone, back)
    assert "[x] castanets" in said
    assert "1 of 1 ticked off." in said
    assert "[ ] castanets" in made.message.value
    assert "castanets" in undone


def test_what_the_band_has_tried_is_a_run_of_what_it_is(path):
    """
    A song's tick writes one run with the band that day, beside what was run; a transition is a run of neither song, its
    and leaves the plan. The tick taken back takes no more than that along, and undo brings it back.
    """

    def runs():
        with opened(path) as book:
            rows = book.rehearsals()
        return {(row.song, row.way): (row.runs, row.minutes, f"{row.date:%Y-%m-%d}") for row in rows.itertuples()}

    def pressed(what, *, on):
        with opened(path) as book:
            made.show(tonight.brief(book.read(), 2))
        made.whom.value = words.BAND
        band = made.brief.band
        at = band.index[band.what == what][0]
        made.lines.children[at].value = on

    with opened(path) as book:
        book.write_set(1, ["Qx Ferry"], stage="played")
        book.add_song("Qx Rook", minutes=3.0)
        later = book.add_show("2031-03-05", "Kelp")
        book.write_set(later, ["Qx Ferry", "Qx Rook"])
        book.add_rehearsal("Qx Rook", "band", "2031-03-05", 2, 9.0)
    made = Lists(whose(path), lambda: None)
    pressed("transition", on=True)
    first = runs()
    pressed("song", on=True)
    both = runs()
    with opened(path) as book:
        left = tonight.brief(book.read(), 2).plan
    pressed("transition", on=False)
    pressed("song", on=False)
    after = runs()
    with opened(path) as book:
        undone = book.undo()
    again = runs()

    assert {("Qx Rook", "band"): (2, 9.0, "2031-03-05")} == first == after
    assert (3, 12.0, "2031-03-05") == both["Qx Rook", "band"]
    assert "transition" not in set(left["what"])
    assert 'the tick at "band, song: Qx Rook"' in undone
    assert both == again


def test_a_thing_is_kept_from_show_to_show(path):
    """
    In the user's own words, with who sets it out and where it stands; typed again, what is kept is there to be changed;
    and off the list again.
    """
    with opened(path) as book:
        book.keep_thing("fan", spare="none", who="Teo", remark="left of the riser")
        later = book.add_show("2031-03-05", "Kelp")
        book.write_set(later, ["Qx Ferry"])
        made = Lists(whose(path), lambda: None)
        made.show(tonight.brief(book.read(), later))
    made.thing.value = "fan"
    filled = [made.spare.value, made.who.value, made.remark.value]
    made.spare.value = "the small one"
    made.keep()
    with opened(path) as book:
        brief = tonight.brief(book.read(), later)
        said = words.as_message(words.listed_for(brief, words.DOORS))
        book.drop_thing("fan")
        left = book.things()

    assert ["none", "Teo", "left of the riser"] == filled
    assert "[ ] fan (every night \u00b7 Teo \u00b7 left of the riser \u00b7 if it fails: the small one)" in said
    assert 0 == len(left)


def test_the_command_prints_one_list(path, tmp_path, capsys):
    """
    Text to paste, and where it is on paper.
    """
    assert 0 == main(["--diary", str(path), "tonight", "--show", "1", "--for", "doors", "--sheets", str(tmp_path)])

    out = capsys.readouterr().out
    expected = "Set out before doors: Ostby, Tuesday 4 March 2031\n0 of 1 ticked off.\n[ ] castanets (from 1)"
    assert out.startswith(expected)
    assert (tmp_path / "doors-2031-03-04.pdf").exists()


@pytest.mark.parametrize("machine_fonts", [True, False])
def test_the_directors_list_of_a_long_set_is_one_page(machine_fonts):
    """
    The demo's 23 songs with their count-ins, speeches and cues, in wide letters and in narrow ones.
    """
    with opened(whose("demo").path) as book:
        tour = book.read()
    made = words.listed_for(tonight.brief(tour, tour.next_show()), words.DIRECTOR)

    assert 1 == len(pdfium.PdfDocument(printed.printed(made, machine_fonts=machine_fonts)))
    assert any("cue: " in line.more for line in made.lines)
