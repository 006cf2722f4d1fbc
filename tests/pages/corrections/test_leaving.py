"""Export: tables, review and sheets, each into a folder of one's choice."""

import re

import pypdfium2 as pdfium
import pytest

from tourstats.diary import opened
from tourstats.pages.corrections import leaving
from tourstats.pages.sheet import SheetProblem


def words(field):
    """What a field of HTML says."""
    return " ".join(re.sub(r"<[^>]+>", " ", field.value).split())


def press(form, name):
    """Press the button of that name."""
    boxes = [form.box]
    while boxes:
        widget = boxes.pop()
        if getattr(widget, "description", "") == name:
            widget.click()
        boxes += getattr(widget, "children", ())


@pytest.fixture
def diary():
    """Two legs of one and two shows; one more that has no set."""
    with opened() as book:
        for song in ("Ferry", "Tin Rook"):
            book.add_song(song)
        for day, city, leg in (("03-13", "Ostby", "Spring"), ("06-13", "Kelp", "Summer"), ("06-14", "Lurn", "Summer")):
            show = book.add_show(f"2031-{day}", city, leg=leg)
            book.write_set(show, ["Ferry", "Tin Rook"], stage="played")
        book.add_show("2031-06-15", "Northquern", leg="Summer")
        yield book


def pages_of(pdf):
    with pdfium.PdfDocument(pdf) as paper:
        return [page.get_textpage().get_text_bounded() for page in paper]


def test_the_sheets_of_a_leg_are_those_of_its_shows(diary, tmp_path):
    """
    In their order, each as it was on its afternoon; a show without a set, or of another leg, is not there.
    """
    steps = []
    made = leaving.leg_pdf(diary.read(), tmp_path, "Summer", step=lambda *step: steps.append(step))
    pages = pages_of(made.pdf)

    assert ("stage-sheets-summer.pdf", 2) == (made.pdf.name, made.shows)
    assert [True, True] == [city in page for city, page in zip(("Kelp", "Lurn"), pages, strict=True)]
    assert [(1, 2), (2, 2)] == steps
    assert 3 == leaving.leg_pdf(diary.read(), tmp_path).shows


def test_a_leg_without_a_set_is_said(diary, tmp_path):
    """
    There is nothing to print.
    """
    with pytest.raises(SheetProblem, match="There is no show with a set"):
        leaving.leg_pdf(diary.read(), tmp_path, "Winter")


def test_each_button_writes_into_the_folder(diary, tmp_path):
    """
    Tables, review and sheets are where the sentence says.
    """
    form = leaving.Leaving()
    form.folder.value = str(tmp_path / "out")
    legs = list(form.leg.options)
    for name in ("Every table as CSV", "The review of the leg", "All sheets of the leg"):
        press(form, name)
        assert str(tmp_path / "out") in words(form.said).replace(" ", ""), name
    made = {path.name for path in (tmp_path / "out").iterdir()}

    assert ["Summer", "Spring", "the whole tour"] == legs
    assert {"songs.csv", "plays.csv", "leg-review-summer.pdf", "stage-sheets-summer.pdf"} <= made
    assert "The sheets of 2 shows are in" in words(form.said)


def test_no_folder_is_said(diary):
    """
    Nothing is written into the folder one happens to be in.
    """
    form = leaving.Leaving()
    form.folder.value = " "
    press(form, "Every table as CSV")

    assert "Say into which folder it should go." == words(form.said)
