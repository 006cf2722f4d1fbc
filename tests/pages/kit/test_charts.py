"""What all charts share, and the charts of rotation."""

import base64
import importlib.metadata
import itertools
import json
import re
import subprocess
import sys
from xml.etree import ElementTree as ET

import altair as alt
import numpy as np
import pandas as pd
import pytest

from tourstats.models import rotation as model
from tourstats.pages.kit import charts as _base
from tourstats.pages.kit.charts import LIVE, PALETTE, bundle, finished, svg
from tourstats.pages.kit.look import LIVE_ONLY
from tourstats.pages.rotation import chart as rotation


def tour(songs=12, shows=9, size=5, seed=4):
    """A made-up tour of two legs; a set keeps some songs of the one before."""
    draws = np.random.default_rng(seed)
    titles = [f"Ferry {at} & <Tide>" for at in range(songs)]
    last, rows = [], []
    for show in range(1, shows + 1):
        kept = [title for title in last if draws.random() < 0.6]
        fresh = [title for title in titles if title not in kept]
        last = [*kept, *draws.choice(fresh, size - len(kept), replace=False)]
        rows += [(show, at, title) for at, title in enumerate(last, start=1)]
    dates = pd.Timestamp("2031-03-04") + pd.to_timedelta(np.arange(shows) * 2, unit="D")
    legs = np.where(np.arange(shows) < shows // 2, "Harbour leg", "Hill leg")
    return (
        pd.DataFrame(rows, columns=["show_id", "position", "song"]),
        pd.DataFrame({"show_id": range(1, shows + 1), "date": dates, "leg": legs, "city": "Northquern"}),
        pd.DataFrame({"song": titles}),
    )


NAMES = ("tour", "changes", "layoffs", "round")


def charts():
    """Each chart of rotation on one tour."""
    plays, shows, songs = tour()
    return {
        "tour": rotation.tour_picture(plays, shows, songs),
        "changes": rotation.changes_a_night(model.changes_a_night(plays, shows)),
        "layoffs": rotation.layoffs(model.layoffs(plays, shows, songs)),
        "round": rotation.goes_round(model.goes_round(plays, shows, songs)),
    }


@pytest.fixture(scope="module")
def drawn():
    """The charts, made once."""
    return charts()


def linear(colour):
    """A colour as linear light (IEC 61966-2-1, sRGB)."""
    parts = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def contrast(one, other):
    """Contrast ratio, WCAG 2.1, definition of "contrast ratio": (lighter + 0.05) / (darker + 0.05)."""
    low, high = sorted(float(linear(colour) @ [0.2126, 0.7152, 0.0722]) for colour in (one, other))
    return (high + 0.05) / (low + 0.05)


TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.072175], [0.0193339, 0.119192, 0.9503041]]
)
# Machado, Oliveira and Fernandes (2009), table of matrices for severity 1.0.
SIGHT = {
    "full": np.eye(3),
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.3039]],
}


def lab(colour, sight="full"):
    """CIE 1976 L*a*b* of a colour as somebody with this sight sees it."""
    seen = np.clip(np.asarray(SIGHT[sight]) @ linear(colour), 0, 1)
    ratio = TO_XYZ @ seen / [0.95047, 1, 1.08883]
    f = np.where(ratio > 0.008856, np.cbrt(ratio), 7.787 * ratio + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_the_contrast_formula_is_the_published_one():
    """
    WCAG 2.1: black on white is 21 : 1; #767676 is the lightest grey that reaches 4.5 : 1 (WebAIM, from memory).
    """
    assert 21 == pytest.approx(contrast("#000000", "#ffffff"))
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def test_text_and_marks_stand_out_from_the_page():
    """
    WCAG 2.1, 1.4.3: text at least 4.5 : 1; 1.4.11: marks at least 3 : 1.
    """
    assert [] == [colour for colour in (_base.INK, _base.QUIET) if contrast(colour, "#ffffff") < 4.5]
    assert [] == [colour for colour in (*PALETTE, _base.KEPT) if contrast(colour, "#ffffff") < 3]


@pytest.mark.parametrize("sight", SIGHT)
def test_colours_stay_apart_for_every_kind_of_sight(sight):
    """
    Any two differ by 20 or more (CIE 1976); one that can just be told from another differs by about 2.3.
    """
    pairs = {(a, b): np.linalg.norm(lab(a, sight) - lab(b, sight)) for a, b in itertools.combinations(PALETTE, 2)}

    assert {} == {pair: apart for pair, apart in pairs.items() if apart < 20}


def test_colours_stay_apart_in_grey_print():
    """
    Lightness climbs by at least 8 from one to the next, and along the ramp falls by at least 10.
    """
    assert min(np.diff([lab(colour)[0] for colour in PALETTE])) >= 8
    assert max(np.diff([lab(colour)[0] for colour in _base.RAMP])) <= -10


@pytest.mark.parametrize("missing", ["title", "description"])
def test_a_chart_without_words_is_refused(missing):
    """
    The finding and the words for a screen reader are not optional.
    """
    words = {"title": "Ferry is out", "description": "One bar."} | {missing: "  "}

    with pytest.raises(ValueError, match="A chart needs a") as caught:
        finished(alt.Chart(pd.DataFrame({"x": [1]})).mark_bar().encode(x="x:Q"), **words)
    assert f"A chart needs a {missing} that says what it shows; it was empty." == str(caught.value)


@pytest.mark.parametrize("name", NAMES)
def test_a_chart_is_live_a_picture_and_words_in_one_bundle(name, drawn):
    """
    Through Altair's own way of showing it: a spec labelled version 5, an SVG, and the description.
    """
    data, metadata = drawn[name]._repr_mimebundle_()

    assert {LIVE, "image/svg+xml", "text/plain"} == set(data)
    assert "https://vega.github.io/schema/vega-lite/v5.json" == data[LIVE]["$schema"]
    assert data["text/plain"] == data[LIVE]["description"]
    assert len(data["text/plain"]) > 40
    assert not metadata[LIVE]["embed_options"]["actions"]
    assert "container" != data[LIVE].get("width")  # hangs JupyterLab 4.6


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_is_well_formed_and_reads_aloud(name, drawn):
    """
    One image with the description as its label, and nothing fetched.
    """
    picture = svg(drawn[name])
    root = ET.fromstring(picture)  # noqa: S314  # our own

    assert "img" == root.get("role")
    assert drawn[name].to_dict()["description"] == root.get("aria-label")
    assert not re.search(r'(?:href|src)="http', picture)
    assert float(root.get("width")) <= 1000


def test_two_runs_give_the_same_bytes(drawn):
    """
    The same charts again, and in a process of its own.
    """
    again = {name: bundle(chart.to_dict()) for name, chart in charts().items()}
    first = {name: bundle(chart.to_dict()) for name, chart in drawn.items()}
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); from test_charts import model, rotation, svg, tour;"
        "sys.stdout.reconfigure(encoding='utf-8'); print(svg(rotation.goes_round(model.goes_round(*tour()))))"
    )
    other = subprocess.run(
        [sys.executable, "-c", code, str(__file__.rpartition("/")[0])], capture_output=True, check=True
    ).stdout.decode()

    assert json.dumps(first) == json.dumps(again)
    assert svg(drawn["round"]) == other.strip()


def test_numbers_that_are_read_are_never_cut():
    """
    Only places of marks are rounded, not what labels say.
    """
    frame = pd.DataFrame({"x": ["0.123456"], "y": [1]})
    chart = finished(alt.Chart(frame).mark_bar().encode(x="x:N", y="y:Q"), "A bar", "One bar.")

    assert ">0.123456<" in svg(chart)


def test_two_pictures_on_a_page_do_not_share_a_clip():
    """
    Names within a picture differ from chart to chart.
    """
    frame = pd.DataFrame({"x": [1, 2], "y": [1, 2]})

    def clipped(title):
        return svg(finished(alt.Chart(frame).mark_line(clip=True).encode(x="x:Q", y="y:Q"), title, title))

    one, other = (set(re.findall(r'id="([^"]+)"', clipped(title))) for title in ("One", "Other"))
    assert one
    assert not one & other


def test_very_many_marks_become_dots():
    """
    Where a PNG is smaller it stands in the bundle, with its size.
    """
    frame = pd.DataFrame([(x, y, x * y) for x in range(60) for y in range(60)], columns=["x", "y", "plays"])
    chart = alt.Chart(frame).mark_rect().encode(x="x:O", y="y:O", color="plays:Q").properties(height=400)
    data, metadata = bundle(finished(chart, "Squares", "Squares.").to_dict())

    dots = base64.b64decode(data["image/png"])
    assert "image/svg+xml" not in data
    assert int.from_bytes(dots[16:20], "big") == metadata["image/png"]["width"]


def test_the_tour_has_a_mark_for_each_night_a_song_came_in_and_a_bar_for_each_stay():
    """
    Counted by hand: Ferry in, in, out, in; Tide in from the second show on.
    """
    plays = pd.DataFrame({"show_id": [1, 2, 2, 3, 4, 4], "position": [1, 1, 2, 1, 1, 2]})
    plays["song"] = ["Ferry", "Ferry", "Tide", "Tide", "Ferry", "Tide"]
    shows = pd.DataFrame({"show_id": [1, 2, 3, 4], "date": pd.date_range("2031-03-04", periods=4)})
    drawn = rotation._runs(*model.in_sets(plays, shows))

    expected = {
        ("Ferry", "stayed", 0.5, 1.5),  # there from the start
        ("Ferry", "stayed", 1.5, 2.5),
        ("Ferry", "came in", 3.5, 4.5),
        ("Tide", "came in", 1.5, 2.5),
        ("Tide", "stayed", 2.5, 4.5),
    }
    assert expected == set(drawn[["song", "what", "start", "end"]].itertuples(index=False, name=None))


@pytest.mark.parametrize(("songs", "shows"), [(130, 75), (150, 200)])
def test_a_long_tour_is_legible_and_light(songs, shows):
    """
    Every song has its label, rows 11 dots or more apart, and the whole stays under 250 kB.
    """
    plays, dates, repertoire = tour(songs, shows, size=22)
    drawn = svg(rotation.tour_picture(plays, dates, repertoire))

    heights = sorted(
        float(y)
        for y in re.findall(r'<text text-anchor="end" transform="translate\([-\d.]+,([\d.]+)\)"[^>]*>Ferry', drawn)
    )
    assert songs == len(heights)
    assert min(np.diff(heights)) >= 11
    assert len(drawn) < 250_000


def test_songs_stand_in_the_order_asked_for_then_by_first_play():
    """
    Retired songs that were never played have no row.
    """
    plays, _, _ = tour()
    songs = pd.DataFrame({"song": ["Never", "Gone"], "status": ["active", "retired"]})
    first = plays.song.drop_duplicates().tolist()

    assert [first[3], *first[:3], *first[4:], "Never"] == rotation._rows(plays, songs, [first[3]])


def test_layoffs_are_drawn_longest_first_with_what_was_rehearsed():
    """
    Also the songs without a usual range stay in their place; those never played are left out.
    """
    frame = pd.DataFrame(
        {
            "song": ["Salt Road", "Ferry", "Tin Rook", "Never"],
            "layoff_shows": pd.array([9, 7, 0, None], dtype="Int64"),
            "layoff_days": pd.array([20, 15, 0, None], dtype="Int64"),
            "usual_low": [np.nan, 2.0, 1.0, np.nan],
            "usual_median": [np.nan, 3.0, 1.0, np.nan],
            "usual_high": [np.nan, 5.0, 2.0, np.nan],
            "rehearsed_days": pd.array([3, None, 1, None], dtype="Int64"),
        }
    )
    chart = rotation.layoffs(frame)

    labels = re.findall(
        r'text-anchor="end" transform="translate\(-[\d.]+,([\d.]+)\)[^>]*>(Salt Road|Ferry)<', svg(chart)
    )
    assert ["Salt Road", "Ferry"] == [song for _, song in sorted(labels, key=lambda label: float(label[0]))]
    assert "Salt Road, 9 shows, run 3 d ago; Ferry, 7 shows, not run." in chart.to_dict()["description"]
    assert "Never" not in json.dumps(chart.to_dict())


def test_changes_are_told_of_the_last_show():
    """
    The title says the finding, in whole words.
    """
    frame = pd.DataFrame({"show_id": [1, 2], "date": pd.date_range("2031-03-04", periods=2), "carried": [4, 3]})
    chart = rotation.changes_a_night(frame.assign(came_in=[1, 1], went_out=[0, 2]))

    title = " ".join(chart.to_dict()["title"]["text"])
    assert "At the last show 1 song came in, 2 songs went out and 3 songs stayed" == title


def test_going_round_is_told_at_ten_shows():
    """
    Or at as many as there are.
    """
    frame = pd.DataFrame({"shows": range(1, 13), "share": np.arange(1, 13) / 20})

    title = " ".join(rotation.goes_round(frame).to_dict()["title"]["text"])
    assert "The last 10 shows had 50% of the repertoire" == title
    assert "The last show had 5% of the repertoire" == rotation._round(frame.head(1))


def test_a_tour_without_shows_is_drawn_empty():
    """
    Day one is ordinary.
    """
    plays, shows, songs = (frame.head(0) for frame in tour())

    for chart in (
        rotation.tour_picture(plays, shows, songs),
        rotation.changes_a_night(model.changes_a_night(plays, shows)),
        rotation.layoffs(model.layoffs(plays, shows, songs)),
        rotation.goes_round(model.goes_round(plays, shows, songs)),
    ):
        assert "<svg" in svg(chart)


def test_a_page_that_draws_charts_itself_gets_no_picture_drawn_for_it(monkeypatch):
    """
    The live chart and its words are there; in the picture's place stands a dot, which keeps the drawer from adding one.
    """
    chart = rotation.goes_round(pd.DataFrame({"shows": [1], "share": [0.5]}))
    monkeypatch.setenv(LIVE_ONLY, "1")
    data, _ = bundle(chart.to_dict())

    assert {LIVE, "text/plain", "image/png"} == set(data)
    assert len(data["image/png"]) < 200


def test_charts_load_without_the_parser_of_names():
    """
    It takes one to four seconds. Where it is no longer installed, `kit/light_altair.py` can go.
    """
    code = "import sys, tourstats.pages.kit.charts; print('altair' in sys.modules, 'lark' in sys.modules)"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert "True False" == out.stdout.strip()
    assert importlib.metadata.version("rfc3987_syntax")  # not find_spec: in this process it may be blocked already
