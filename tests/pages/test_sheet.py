"""The stage sheet on paper and on a tablet."""

import re
import subprocess
import sys
from dataclasses import dataclass
from html.parser import HTMLParser

import numpy as np
import pandas as pd
import pypdfium2 as pdfium
import pytest
import typst

from tourstats.pages import sheet
from tourstats.pages.sheet import NOT_DRAWN, SheetProblem, leg_sheets, stage_sheet

SHOW = {
    "show_id": 41,
    "date": pd.Timestamp("2031-03-04"),
    "number": 1,
    "leg": "Harbour leg",
    "venue": "Tin Hall",
    "city": "Northquern",
    "room": "theatre",
    "set_minutes": 100.0,
}
LONG = "A very long title of sixty letters that goes on and on, yes."


@dataclass(frozen=True)
class Night:
    """Stands for a brief."""

    show: dict
    set: pd.DataFrame


def night(titles, show=SHOW, **columns):
    """A set of these titles, the last two as encore."""
    songs = pd.DataFrame({"position": range(1, len(titles) + 1), "song": titles})
    songs["encore"] = songs.position > len(titles) - 2
    return Night(show, songs.assign(**columns))


def full(size):
    """A set with everything that a row may hold."""
    return night(
        [f"The Long Quiet Ferry {at}" for at in range(size)],
        tempo_bpm=92.5,
        minutes=4.0,
        starts_by="Guitar and voice",
        count_in="2 bars, sticks",
        gear="brushes; small cowbell",
        samples="rain; bell",
        track="click B",
        status="in",
        watch="snares off for the coda, then mallets",
        warning="out 14 shows · snares off for the coda, then mallets",
    )


def printed(made):
    """The words on the paper, page by page."""
    with pdfium.PdfDocument(made.pdf) as paper:
        texts = [page.get_textpage().get_text_bounded() for page in paper]
    # Breaks allowed within long words are not part of what was typed.
    return [" ".join(text.replace("\u200b\r\n", "").replace("\u200b", "").split()) for text in texts]


def boxes(made):
    """Each letter on the paper: the letter, and left, bottom, right, top in points from the lower left corner."""
    with pdfium.PdfDocument(made.pdf) as paper:
        for page in paper:
            text = page.get_textpage()
            for at in range(text.count_chars()):
                yield text.get_text_range(at, 1), *text.get_charbox(at)


def test_a_sheet_says_all_that_is_known_about_each_song(tmp_path):
    """
    Number, title, tempo, who starts, gear, sample, track, warning, and where and when.
    """
    (page,) = printed(stage_sheet(full(4), tmp_path))

    for expected in (
        "Northquern",
        "4 Mar 2031",
        "Tin Hall · theatre · Harbour leg · show 41",
        "4 songs · 16 min of 100 asked for",
        "The Long Quiet Ferry 0",
        "92.5",
        "Guitar and voice, 2 bars, sticks",
        "brushes, small cowbell · sample: rain, bell · track: click B",
        "! snares off for the coda, then mallets",
        "ENCORE",
        "Boxed number: came in since the last set.",
    ):
        assert expected in page
    assert page.index("Ferry 1") < page.index("ENCORE") < page.index("Ferry 2")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(("songs", "pages"), [(1, 1), (24, 1), (30, 1), (31, 2), (61, 3)])
def test_thirty_songs_are_one_page_of_either_paper(songs, pages, paper, tmp_path):
    """
    Everything filled in and an encore: thirty songs on one page, more shared out evenly, none lost.
    """
    made = printed(stage_sheet(full(songs), tmp_path, paper))

    assert pages == len(made)
    assert songs == sum(page.count("! snares off") for page in made)
    assert max(page.count("! snares") for page in made) <= 30


@pytest.mark.parametrize(("paper", "width", "height"), [("A4", 595.276, 841.89), ("Letter", 612, 792)])
def test_the_paper_is_the_one_asked_for(paper, width, height, tmp_path):
    """
    ISO 216 A4 is 210 by 297 mm, Letter (ANSI Y14.1, size A) 8.5 by 11 inches of 72 points.
    """
    with pdfium.PdfDocument(stage_sheet(full(3), tmp_path, paper).pdf) as made:
        measured = made[0].get_size()

    assert (width, height) == pytest.approx(measured, abs=0.5)
    assert f"size: {paper}" in (tmp_path / "stage-sheet-2031-03-04.html").read_text()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_twenty_four_titles_are_read_at_arms_length(paper, tmp_path):
    """
    Titles stand in type of 16 points on A4, 15 on Letter: a capital F of Libertinus is about 0.65 of its type high.
    """
    least = {"A4": 16, "Letter": 15}[paper]
    made = stage_sheet(full(24), tmp_path, paper, machine_fonts=False)

    heights = [top - bottom for letter, _, bottom, _, top in boxes(made) if letter == "F"]
    assert 24 == len(heights)
    assert least <= min(heights) / 0.65
    assert max(heights) / 0.65 <= 20.5


@pytest.mark.parametrize(("songs", "least"), [(25, 10), (30, 7.5)])
def test_what_to_watch_is_read_on_a_dark_stage(songs, least, tmp_path):
    """
    Ten points at least for 25 songs, however much there is to say of each: the less important words go, and the foot
    says that there were more. The bold x of Libertinus is 0.42 of its type
    high.
    """
    busy = night(["Ferry"] * songs, gear="glockenspiel", track="click", track_by="Teo, switch", track_fails="I count",
                 speech="Ilka, a minute", watch="xx at the second coda after the bridge, then out both")  # fmt: skip
    made = stage_sheet(busy, tmp_path, machine_fonts=False)

    heights = [top - bottom for letter, _, bottom, _, top in boxes(made) if letter == "x"]
    assert songs <= len(heights)
    assert least <= min(heights) / 0.42
    assert "there is more than fits" in printed(made)[0]
    assert "I count" in made.html.read_text()


def test_no_doubt_stands_on_the_sheet_unless_asked_for(tmp_path):
    """
    How long a song was out is for the afternoon; on stage only what to do.
    """
    plain = stage_sheet(full(3), tmp_path)

    assert "14 shows" not in printed(plain)[0] + plain.html.read_text()
    assert 3 == printed(stage_sheet(full(3), tmp_path, doubts=True))[0].count("out 14 shows")


def test_nothing_stands_outside_the_paper(tmp_path):
    """
    Sixty letters without a space, and with, keep within the page and its margins.
    """
    titles = [LONG, "W" * 60, *["Ferry"] * 22]
    made = stage_sheet(night(titles, gear="x" * 90, starts_by="everybody except the drums", watch="y" * 120), tmp_path)

    assert 1 == len(printed(made))
    places = [box for letter, *box in boxes(made) if letter.strip()]
    assert min(left for left, _, _, _ in places) >= 20
    assert min(bottom for _, bottom, _, _ in places) >= 8
    assert max(right for _, _, right, _ in places) <= 595 - 20
    assert "W" * 60 in printed(made)[0]


def test_what_is_not_known_is_blank(tmp_path):
    """
    Only positions and titles: no "nan", no "None", no invented tempo; one length of two makes "at least".
    """
    bare = stage_sheet(
        Night({"show_id": 3, "date": "2031-03-04"}, pd.DataFrame({"position": [1], "song": ["Ferry"]})), tmp_path
    )
    empty = stage_sheet(
        night(["Ferry", "Salt Road"], {**SHOW, "leg": np.nan, "room": None, "set_minutes": np.nan},
              tempo_bpm=[np.nan, 120.0], minutes=[4.0, np.nan], starts_by=None, gear=np.nan, watch=pd.NA),
        tmp_path / "other",
    )  # fmt: skip

    for made in (bare, empty):
        for text in (*printed(made), made.html.read_text()):
            assert not re.search(r"\b(nan|None|NaT|NA)\b", text)
    assert "at least 4 min" in printed(empty)[0]
    assert "Boxed" not in printed(bare)[0]
    assert "show 3" in printed(bare)[0]


@pytest.mark.parametrize(
    "title",
    [
        "#set page(fill: red)",
        "*bold* _it_ $x$ `raw` // no",
        '"quoted" \\ #{1 + 1}',
        "<script>alert(1)</script>",
        "@ref <x>",
    ],
)
def test_nothing_typed_is_markup(title, tmp_path):
    """
    Signs of typst and of HTML are shown as they were typed.
    """
    made = stage_sheet(night([title], {**SHOW, "city": title}, watch=title, gear=title, starts_by=title), tmp_path)

    assert title in printed(made)[0]
    cells, scripts = read_page(made)
    assert title in cells
    assert [] == scripts


def read_page(made):
    """The text of each cell of the HTML sheet, and what in it is more than text."""

    class Reader(HTMLParser):
        cells, scripts, inside = [], [], ""  # read once

        def handle_starttag(self, tag, attrs):
            self.inside = tag
            if tag in ("script", "img", "link", "iframe") or any(name.startswith("on") for name, _ in attrs):
                self.scripts.append(tag)

        def handle_data(self, data):
            if self.inside != "style":
                self.cells.append(data.strip())

    reader = Reader()
    reader.cells, reader.scripts = [], []
    reader.feed(made.html.read_text(encoding="utf-8"))
    return reader.cells, reader.scripts


def test_titles_of_many_scripts_are_drawn_from_fonts_that_are_brought_along(tmp_path):
    """
    Latin with marks, Greek, Cyrillic, Hebrew, Arabic, Chinese, Japanese and Korean need no font of the machine.
    """
    titles = ["Café Łódź ø ñ", "Ελληνικό", "Кирилица", "שיר", "أغنية", "日本語の歌", "渡口", "나루터"]
    made = stage_sheet(night(titles), tmp_path, machine_fonts=False)

    assert () == made.left_out
    assert NOT_DRAWN not in printed(made)[0]


def test_what_no_font_draws_is_left_out_and_said(tmp_path):
    """
    An emoji leaves its title, a title of signs that nothing draws says so, the rest of the sheet is whole.
    """
    made = stage_sheet(
        night(["\U0001f3b8 Rock", "\U00013080\U00013081\U00013082", "Ferry"]), tmp_path, machine_fonts=False
    )

    page = printed(made)[0]
    assert (
        'Song 1, "\U0001f3b8 Rock": no font on this machine draws "\U0001f3b8"; left out on paper.',
        (
            'Song 2, "\U00013080\U00013081\U00013082": no font on this machine draws '
            '"\U00013080", "\U00013081" and "\U00013082"; left out on paper.'
        ),
    ) == made.left_out
    assert "\U0001f3b8" not in page
    assert "Rock" in page
    assert NOT_DRAWN in page
    assert "Signs that no font here draws are left out: song 1, song 2." in page
    assert "\U0001f3b8 Rock" in made.html.read_text(encoding="utf-8")


def test_no_box_is_ever_printed(tmp_path):
    """
    Typst refuses an accessible PDF with a sign that its font does not have; without that rule it draws boxes.
    """
    template = b'#set document(title: "x")\n#text(font: "Libertinus Serif", sys.inputs.t)'

    with pytest.raises(typst.TypstError, match="could not be displayed with font"):
        typst.compile(
            template, format="pdf", sys_inputs={"t": "\U0001f3b8"}, ignore_system_fonts=True, pdf_standards=["ua-1"]
        )
    made = stage_sheet(night(["Rock \u0378 \U0001faa9 \u200d \ue000 \x07"]), tmp_path, machine_fonts=False)
    assert "Rock" in printed(made)[0]
    assert 1 == len(made.left_out)


def test_an_error_of_typst_that_is_not_about_signs_is_not_hidden(tmp_path, monkeypatch):
    """
    A fault in the template shows itself, and is not tried for ever.
    """
    broken = tmp_path / "broken.typ"
    broken.write_text("#nonsense")
    monkeypatch.setattr(sheet, "_TEMPLATE", broken)

    with pytest.raises(typst.TypstError, match="unknown variable"):
        stage_sheet(full(2), tmp_path)


def test_two_runs_give_the_same_bytes(tmp_path):
    """
    The date on the paper is the show's, not the clock's.
    """
    first, second = (stage_sheet(full(24), tmp_path / name) for name in ("a", "b"))

    assert first.pdf.read_bytes() == second.pdf.read_bytes()
    assert first.html.read_bytes() == second.html.read_bytes()
    assert b"D:20310304" in first.pdf.read_bytes()


def test_a_dark_sheet_is_white_on_black(tmp_path):
    """
    For a tablet on a dark stage; it has a name of its own.
    """
    dark = stage_sheet(full(3), tmp_path, dark=True)
    with pdfium.PdfDocument(dark.pdf) as paper:
        shade = paper[0].render(scale=0.5, grayscale=True).to_numpy()

    assert "stage-sheet-2031-03-04-dark.pdf" == dark.pdf.name
    assert '<body class="dark">' in dark.html.read_text()
    assert 0 == np.median(shade)
    assert 255 == shade.max()


def test_two_shows_on_one_day_have_two_sheets(tmp_path):
    """
    The second show does not write over the first one's sheet.
    """
    made = stage_sheet(night(["Ferry"], {**SHOW, "number": 2}), tmp_path)

    assert "stage-sheet-2031-03-04-2.pdf" == made.pdf.name
    assert "number 2 of the day" in printed(made)[0]


def test_the_page_is_one_that_a_screen_reader_can_follow(tmp_path):
    """
    A language, headings of columns and rows, and what the box around a number means.
    """
    page = stage_sheet(full(3), tmp_path).html.read_text()

    assert '<html lang="en">' in page
    assert 5 == page.count('scope="col"')
    assert 3 == page.count('scope="row"')
    assert 1 == page.count('scope="rowgroup">Encore')
    assert "Boxed number: came in since the last set." in page


def test_the_set_is_printed_in_its_order(tmp_path):
    """
    Rows are sorted by position, whatever order the table has.
    """
    plays = night(["Ferry", "Salt Road", "Tin Rook"])

    page = printed(stage_sheet(Night(SHOW, plays.set.iloc[::-1]), tmp_path))[0]
    assert page.index("Ferry") < page.index("Salt Road") < page.index("Tin Rook")


def test_an_empty_set_is_a_sheet_with_nothing_on_it(tmp_path):
    """
    No songs yet is no error.
    """
    assert "0 songs" in printed(stage_sheet(night([]), tmp_path))[0]


def test_a_paper_that_is_not_known_is_answered_with_those_that_are(tmp_path):
    """
    The whole sentence.
    """
    with pytest.raises(SheetProblem) as caught:
        stage_sheet(full(2), tmp_path, paper="A5")

    assert "The paper of a stage sheet is one of A4, Letter; it was 'A5'." == str(caught.value)


def test_a_folder_that_cannot_be_written_is_named(tmp_path):
    """
    A file stands where the folder should be.
    """
    (tmp_path / "taken").write_text("")

    with pytest.raises(SheetProblem, match=r"cannot be written to .*taken: .* Choose another folder"):
        stage_sheet(full(2), tmp_path / "taken")


def test_the_sheet_needs_no_chart_and_no_form():
    """
    At 16:05 a sheet is set without waiting for altair or ipywidgets.
    """
    code = (
        "import sys, tourstats.pages.sheet;"
        "print([m for m in ('altair', 'ipywidgets', 'statsmodels', 'IPython', 'vl_convert') if m in sys.modules])"
    )

    assert (
        "[]" == subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip()
    )


def test_the_number_of_a_song_that_came_in_is_boxed(tmp_path):
    """
    Black around the number: more ink than on the same sheet with nothing new.
    """
    ink = {}
    for status in ("in", "carried"):
        made = stage_sheet(night(["Ferry"] * 9, status=status), tmp_path)
        with pdfium.PdfDocument(made.pdf) as paper:
            ink[status] = (paper[0].render(scale=1, grayscale=True).to_numpy()[90:, :60] < 60).sum()

    assert ink["in"] > 1.5 * ink["carried"]


def test_the_sheets_of_a_leg_are_one_document(tmp_path):
    """
    Each show begins a page of its own, in the order given, and looks as it does alone.
    """
    nights = [night(["Ferry", "Tin Rook"], SHOW | {"city": city}) for city in ("Northquern", "Eastquern")]
    long = night([f"Long Lane Home {at}" for at in range(40)], SHOW | {"city": "Westernook"})
    made = leg_sheets([*nights, long], tmp_path / "out" / "leg.pdf", title="Harbour leg", machine_fonts=False)
    alone = [printed(stage_sheet(each, tmp_path, machine_fonts=False)) for each in (*nights, long)]

    assert (3, ()) == (made.shows, made.left_out)
    assert [page for pages in alone for page in pages] == printed(made)
    with pdfium.PdfDocument(made.pdf) as paper:
        assert "Harbour leg" == paper.get_metadata_dict()["Title"]


def test_signs_that_are_left_out_are_named_with_their_show(tmp_path):
    """
    Only the sheet that lost a sign says so, and the sentence tells the day.
    """
    nights = [night(["Ferry", "Tin Rook"]), night(["Ferry \U00013080", "Tin Rook"], SHOW | {"date": "2031-03-05"})]
    made = leg_sheets(nights, tmp_path / "leg.pdf", machine_fonts=False)
    first, second = printed(made)

    assert [
        '5 Mar 2031: Song 1, "Ferry \U00013080": no font on this machine draws "\U00013080"; left out on paper.'
    ] == list(made.left_out)
    assert "left out" not in first
    assert "left out: song 1" in second


def test_a_leg_without_a_show_has_no_sheets(tmp_path):
    """
    The sentence says what to do.
    """
    with pytest.raises(SheetProblem) as caught:
        leg_sheets([], tmp_path / "leg.pdf")

    assert "There is no show with a set to make a stage sheet of. Write down a set first." == str(caught.value)
