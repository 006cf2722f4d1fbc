"""A moment that was marked leads back to the recording from every place where its finding is shown."""

import pandas as pd
import pytest

from tests.pages.open_cells import read
from tests.pages.open_cells import shown as cells
from tourstats.models import tonight
from tourstats.pages.kit.look import LIVE_ONLY
from tourstats.pages.kit.tables_shown import shown
from tourstats.pages.review import words as review
from tourstats.pages.show_day import on_screen
from tourstats.pages.song import words as song
from tourstats.tour import Tour

PARTS = ("What worked", "Remarks beside mistakes")
FOUND, WORKED = (f'<a href="/listening?show=1&amp;at={at}">' for at in ("83.5", "3723.0"))


@pytest.fixture
def tour(monkeypatch):
    """A mistake at 1:23 and what worked at 1:02:03 of the first show's recording; one finding without a mark."""
    monkeypatch.setenv(LIVE_ONLY, "1")
    show = {"show_id": [1], "song": ["Qx Rook"], "remark": ["late"]}
    mistakes = pd.DataFrame(
        {"show_id": 1, "song": "Qx Rook", "kind": "entry", "severity": [3, 1], "at_s": [83.5, None]}
    )
    return Tour.of(
        songs=pd.DataFrame({"song": ["Qx Rook"]}),
        shows=pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-04", "2031-03-05"], "city": "Ostby", "leg": "Spring"}),
        plays=pd.DataFrame({"show_id": [1], "position": [1], "song": ["Qx Rook"]}),
        planned=pd.DataFrame({"show_id": [2], "position": [1], "song": ["Qx Rook"]}),
        reviews=pd.DataFrame({"show_id": [1], "song": ["Qx Rook"]}),
        mistakes=mistakes.assign(remark=["late", "early"]),
        worked=pd.DataFrame({**show, "at_s": [3723.0]}),
    )


def test_a_song_a_show_and_the_leg_lead_to_it(tour):
    """
    The moment itself is the link; a finding without one has none.
    """
    pages = {
        "song": song.as_html(song.of_song(tour, "Qx Rook")),
        "show": song.as_html(song.of_show(tour, 1)),
        "leg": "".join(shown(part.table).html for part in review.parts(tour, charts=False) if part.heading in PARTS),
    }

    for page in pages.values():
        assert (1, 1) == (page.count(f"{FOUND}1:23</a>"), page.count(f"{WORKED}1:02:03</a>"))
        assert 2 == page.count('<a href="/listening?')


def test_the_page_of_the_leg_leads_to_it(tour):
    """
    Its cells as they are served, beside the gravest mistakes and what worked.
    """
    values = [value for *_, value in cells("07-leg-review", tour)]
    page = "".join(
        value._repr_mimebundle_()["text/html"] if isinstance(value, review.Part) else read(value) for value in values
    )

    assert (1, 1) == (page.count(f"{FOUND}1:23</a>"), page.count(f"{WORKED}1:02:03</a>"))


def test_the_show_day_leads_to_it(tour):
    """
    Behind the sentence of the last show's finding.
    """
    page = on_screen.day(tonight.brief(tour, 2))

    assert f"{FOUND}Hear it</a>" in page
    assert f"{WORKED}Hear it</a>" in page


def test_where_nothing_is_served_there_is_no_dead_link(tour, monkeypatch):
    """
    On paper and in a saved notebook the moment stands as words.
    """
    monkeypatch.delenv(LIVE_ONLY)
    page = song.as_html(song.of_song(tour, "Qx Rook"))

    assert "1:02:03" in page
    assert "/listening" not in page
    assert "1:02:03" in song.as_text(song.of_song(tour, "Qx Rook"))
