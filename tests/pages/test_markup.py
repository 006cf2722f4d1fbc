"""Whatever somebody calls a song, a town, a venue, a leg or a person: on every surface it is words, never markup."""

import contextlib
import io
from html.parser import HTMLParser

import ipywidgets as w
import numpy as np
import pytest
from nbconvert.filters.markdown import markdown2html

from tests.pages.test_empty import NOTEBOOKS, run
from tourstats.diary import opened, where
from tourstats.models import tonight
from tourstats.pages import sheet
from tourstats.pages.kit.look import LIVE_ONLY
from tourstats.pages.review import printed

EVIL = "<img src=x onerror=alert(1)>"
ALLOWED = {"img": "data:image/svg+xml"}
"""A picture of our own is carried by the page itself."""

ODD = (EVIL, "& Salt", '"Said"', "'s Lamp", "5*4 *x*", "[Live] (2)", "\u00c4rger \u591c", "under_score_", "`tick`")
TITLES = [f"Qx{n} {ODD[n % len(ODD)]}" for n in range(18)]


class Tags(HTMLParser):
    """Collects what would run or be fetched: such tags, and attributes that hold a script."""

    def __init__(self):
        super().__init__()
        self.found = []

    def handle_starttag(self, tag, attrs):
        """Keep what would run."""
        held = dict(attrs)
        ours = tag in ALLOWED and str(held.get("src")).startswith(ALLOWED[tag])
        if (tag in ("img", "script", "iframe", "object") and not ours) or any(name.startswith("on") for name in held):
            self.found.append((tag, attrs))


class Loose(HTMLParser):
    """Collects what stands in no link to a song: words, but for style, pictures and the heading of a song's page."""

    NOT_READ = ("style", "script", "svg", "figure", "h2")

    def __init__(self):
        super().__init__()
        self.inside, self.words = [], []

    def handle_starttag(self, tag, attrs):
        """Go into a link to a song, or into what is not read as words."""
        if tag in self.NOT_READ or (tag == "a" and "/song?song=" in str(dict(attrs).get("href"))):
            self.inside.append(tag)

    def handle_endtag(self, tag):
        """Come out of it."""
        if self.inside and self.inside[-1] == tag:
            self.inside.pop()

    def handle_data(self, data):
        """Keep what is read."""
        self.words += [] if self.inside else [data]


def loose(page):
    """Titles of the tour that stand in no link to their song's page."""
    read = Loose()
    read.feed(page)
    words = "".join(read.words)
    return [title for title in TITLES if title in words]


def run_by(page):
    """What of a page would run in a browser."""
    tags = Tags()
    tags.feed(page)
    return tags.found


@pytest.fixture(scope="module")
def diary_of_markup(tmp_path_factory):
    """Sixteen shows on two legs, with markup in every name and remark that can be typed."""
    path = tmp_path_factory.mktemp("markup") / "tour.sqlite"
    draw = np.random.default_rng(5)
    with opened(path) as diary:
        for title in TITLES:
            diary.add_song(title, gear=EVIL, samples=EVIL, track=EVIL, starts_by=EVIL, watch=EVIL, minutes=4.0)
        for day in range(16):
            leg = f"{'AB'[day // 8]} {EVIL}"
            city = f"Ostby{day % 4} {EVIL}"
            show = diary.add_show(f"2031-03-{day + 1:02}", city, room="club", venue=f"Weir {EVIL}", leg=leg)
            songs = list(draw.choice(TITLES, 8, replace=False))
            diary.write_set(show, songs, stage="planned", remarks=[EVIL] * 8)
            if day < 15:
                diary.write_set(show, songs, stage="played")
                diary.add_review(show, songs)
                diary.add_mistake(show, songs[0], EVIL, 2, section=EVIL, said_by=EVIL, remark=EVIL)
                diary.add_note(f"{EVIL}, unlike {songs[3]}", about="song", song=songs[1])
                diary.add_note(EVIL, about="show", show_id=show)
                diary.add_rehearsal(songs[2], "kit", f"2031-03-{day + 1:02}", 1, 5.0)
    return path


def as_html(value):
    """Every way in which a page shows a value, as HTML."""
    bundle = getattr(value, "_repr_mimebundle_", None)
    made = bundle() if callable(bundle) else {}
    made = dict(made[0] if isinstance(made, tuple) else made)
    for kind, name in (("text/html", "_repr_html_"), ("text/markdown", "_repr_markdown_")):
        if hasattr(value, name):
            made[kind] = getattr(value, name)()
    parts = [made.get("text/html", ""), made.get("image/svg+xml", ""), markdown2html(made.get("text/markdown") or "")]
    boxes = [getattr(value, name, None) for name in ("box", "_box")] + [value]
    return " ".join([*map(str, parts), *(text for box in boxes for text in held(box))])


def held(widget):
    """The HTML that a form shows; what stands in a field or a choice is text to a browser."""
    if isinstance(widget, w.HTML):
        yield widget.value
    for child in getattr(widget, "children", ()):
        yield from held(child)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_no_page_runs_what_was_typed_and_every_title_is_a_link(path, diary_of_markup, monkeypatch, tmp_path):
    """
    Each served page of such a diary shows the names and no tag of theirs; in tables, lists and sentences each title
    leads to its song. Only in pictures, in the fields of forms and over its own page it is a word.
    """
    monkeypatch.setenv(LIVE_ONLY, "1")
    monkeypatch.setenv("TOURSTATS_DIARY", str(where(diary_of_markup)))
    monkeypatch.chdir(tmp_path)
    with contextlib.redirect_stdout(io.StringIO()):
        shown = run(path, as_html)

    assert [] == [found for page in shown for found in run_by(page)]
    assert [] == [found for page in shown for found in loose(page)]


def test_no_file_runs_what_was_typed(diary_of_markup, tmp_path):
    """
    The stage sheet and the review as they are sent to others.
    """
    with opened(diary_of_markup) as diary:
        tour = diary.read()
    made = sheet.stage_sheet(tonight.brief(tour, tour.next_show()), tmp_path)
    review = printed.write(tour, tmp_path, personal=True)
    files = [path.read_text(encoding="utf-8") for path in (made.html, review.html)]

    assert all("&lt;img src=x" in page for page in files)
    assert [] == [found for page in files for found in run_by(page)]
