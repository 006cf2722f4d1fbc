"""The package's root: a tour in, tables out; and what is asked of a show knows nothing of what came later."""

import subprocess
import sys

import pandas as pd
import pytest
from pandas.testing import assert_frame_equal

import tourstats as ts
from tourstats import answers
from tourstats.models import rotation, swaps, tonight
from tourstats.models.playing.song_rates import RatesProblem
from tourstats.pages.audience import words as audience_words
from tourstats.pages.likely import words as likely_words
from tourstats.pages.review import words as review_words
from tourstats.pages.rotation import words as rotation_words
from tourstats.pages.show_day import words as show_day_words
from tourstats.pages.trends import words as trends_words
from tourstats.problems import Problem, UnknownSongProblem

SHOW = 40
"""A show in the middle of the demo tour, with sets, reviews, notes and people before and after it."""


@pytest.fixture(scope="module")
def tour():
    """The demo tour, with what it lacks: levels that start before and after the show."""
    found = ts.read("demo")
    return found.replaced(levels=pd.DataFrame({"show_id": [SHOW - 15, SHOW + 9]}))


def test_a_mistyped_path_is_said_and_begins_no_diary(tmp_path):
    place = tmp_path / "tuor.sqlite"
    with pytest.raises(Problem, match=r"There is no diary at .*tuor\.sqlite"):
        ts.read(place)
    assert not place.exists()


@pytest.fixture(scope="module")
def short(tour):
    """The same tour as it was when the show was over."""
    return tour.through(SHOW)


def plain(result):
    """Whatever an answer is, as something that can be compared."""
    if isinstance(result, pd.DataFrame):
        return result.to_csv(index=False)
    parts = getattr(result, "__dict__", {})
    return {name: plain(part) for name, part in parts.items() if isinstance(part, pd.DataFrame)} or repr(result)


ASKED_OF_A_SHOW = {
    "layoffs": lambda tour: rotation.layoffs(tour.plays, tour.shows, tour.songs, tour.rehearsals, before=SHOW),
    "forecast": lambda tour: swaps.forecast(tour.plays, tour.shows, tour.songs, tour.show(SHOW)).songs.query(
        "chance > 0"
    ),
    "brief": lambda tour: tonight.brief(tour, SHOW),
    "show day": lambda tour: show_day_words.as_text(tonight.brief(tour, SHOW)),
}
"""What can be asked of a tour about one show of it."""

A_ROW_A_SHOW = {
    "changes": ts.changes,
    "changes of songs": lambda tour: ts.changes(tour, by="song"),
    "forecasts": lambda tour: ts.track_record(tour).songs,
    "control": ts.control,
    "freshness": ts.freshness,
    "performances": ts.performances,
}
"""What gives rows that belong to a show, each of which may know the shows before it."""

PAGES = {
    "likely": likely_words.in_short,
    "rotation": rotation_words.in_short,
    "audience": audience_words.in_short,
    "trends": lambda tour: trends_words.in_short(trends_words.read(tour)),
    "review": lambda tour: [part.words for part in review_words.parts(tour, charts=False)],
    "plan": lambda tour: ts.plan(tour, minutes=40),
    "song": lambda tour: ts.song(tour, tour.plays.song.iloc[0]),
    "rates": ts.rates,
    "effects": ts.effects,
}
"""What is said of a tour as a whole: of a tour cut before a show, only what was known then."""


@pytest.mark.parametrize("name", ASKED_OF_A_SHOW)
def test_a_show_knows_nothing_of_what_came_after(name, tour, short):
    """
    Whatever is asked of a show is the same with and without all that came after it.
    """
    ask = ASKED_OF_A_SHOW[name]
    handed_out = short.replaced(planned=tour.set_of(SHOW).assign(show_id=SHOW))

    assert plain(ask(handed_out.until(SHOW))) == plain(ask(tour.replaced(planned=handed_out.planned)))


@pytest.mark.parametrize("name", A_ROW_A_SHOW)
def test_a_row_of_a_show_knows_nothing_of_what_came_after(name, tour, short):
    """
    So is each row that a table has for it.
    """
    whole, cut = (
        asked[asked.show_id == SHOW].reset_index(drop=True) for asked in map(A_ROW_A_SHOW[name], (tour, short))
    )

    assert len(cut)
    assert_frame_equal(cut, whole, check_dtype=False)


@pytest.mark.parametrize("name", PAGES)
def test_a_page_of_a_cut_tour_says_what_was_known(name, tour, short):
    """
    A page over a tour that was cut before a show says the same, whatever the tour went on to be.
    """
    ask = PAGES[name]

    assert plain(ask(tour.until(SHOW))) == plain(ask(short.until(SHOW)))


def test_importing_the_package_loads_nothing():
    """
    The names are found when they are asked for; a misspelt one is answered with those that there are.
    """
    code = "import sys, tourstats; print({'pandas', 'numpy', 'tourstats.answers'} & set(sys.modules), dir(tourstats))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout

    assert f"set() {sorted(ts.__all__)}" == out.strip()
    assert all(callable(getattr(ts, name)) for name in ts.__all__ if name != "chart")
    with pytest.raises(AttributeError, match="tourstats has no 'rate'; it has brief, changes"):
        _ = ts.rate


def test_mistakes_by_who_starts_the_song(tour):
    """
    Counted by hand: each reviewed performance is in the group of its song's starter, with what was found in it.
    """
    told = ts.rates(tour, by="starts_by").set_index("starts_by")
    starter = tour.songs.set_index("song").starts_by.fillna("not said")
    found = tour.mistakes[(tour.mistakes.listening == 1)]
    in_a_set = found.merge(tour.plays[["show_id", "song"]].drop_duplicates(), on=["show_id", "song"])

    assert in_a_set.song.map(starter).value_counts().to_dict() == told.mistakes[told.mistakes > 0].to_dict()
    assert len(ts.performances(tour)) == told.reviewed.sum()
    assert (told.low <= told.rate).all()
    assert (told.rate <= told.high).all()


@pytest.mark.parametrize(
    "by", ["room", "city", "weekday", "gear", "tempo_bpm", "date", ["leg", "room"], "encore", "kind"]
)
def test_rates_by_any_column(by, tour):
    """
    Of songs, of shows, of performances and of mistakes, or by several.
    """
    told = ts.rates(tour.leg(), by=by)
    names = [by] if isinstance(by, str) else by

    assert len(told) > 1
    assert names == list(told.columns[: len(names)])
    assert not told.duplicated(names).any()
    assert ts.chart.rates(told).to_dict()["description"]


def test_a_column_that_is_not_there_is_said(tour):
    """
    With those that there are.
    """
    with pytest.raises(RatesProblem, match=r"`by` is one of show_id, song, layoff_shows.*; it was 'starter'"):
        ts.rates(tour, by="starter")


def test_a_table_reads_well_and_knows_its_words(tour):
    """
    What is made of it does too.
    """
    told = ts.layoffs(tour).query("layoff_shows > 3")[["song", "layoff_shows"]]

    assert isinstance(told, answers.Told)
    assert {"layoff_shows": "shows"} == told.units
    assert set(told.columns) == set(told.labels)
    assert "<table" in told._repr_html_()
    assert isinstance(ts.forecast(tour).songs, answers.Told)


def test_a_chart_can_be_gone_on_with(tour):
    """
    What is drawn is an Altair chart: other marks are laid over it, and it keeps its look and its words.
    """
    alt = ts.chart.alt
    drawn = ts.chart.layoffs(ts.layoffs(tour))
    line = alt.Chart(pd.DataFrame({"layoff_shows": [10]})).mark_rule().encode(x="layoff_shows:Q")
    spec = (drawn + line).properties(width=300).to_dict()

    assert 300 == spec["width"]
    assert spec["description"] == drawn.to_dict()["description"]
    assert spec["config"]["font"] == drawn.to_dict()["config"]["font"]


def test_everything_about_a_song(tour):
    """
    Its history is that of the sets, and a title that is not there is answered with its neighbours.
    """
    title = tour.plays.song.value_counts().index[3]
    told = ts.song(tour, title)

    assert tour.plays[tour.plays.song == title].show_id.nunique() == told.history.position.notna().sum()
    first = tour.mistakes[(tour.mistakes.song == title) & (tour.mistakes.listening == 1)]
    assert len(first) <= (told.said.what == "mistake").sum() <= (tour.mistakes.song == title).sum()
    assert repr(told).startswith(f"{title}: In ")
    assert f"<h2>{title}</h2>" in told._repr_html_()
    with pytest.raises(UnknownSongProblem):
        ts.song(tour, "No Such Song Here")


def test_a_leg_that_was_only_listened_to_again_is_not_held_against_another(short):
    """
    The last two legs are those with a first listening: a later one, heard a second time only, changes nothing.
    """
    last = short.shows.iloc[[-1]].assign(show_id=999, leg="after", date=short.shows.date.max() + pd.Timedelta(days=9))
    song = short.plays.song.iloc[0]
    later = short.replaced(
        shows=pd.concat([short.shows, last], ignore_index=True),
        plays=pd.concat([short.plays, short.plays.iloc[[0]].assign(show_id=999, position=1)], ignore_index=True),
        reviews=pd.concat([short.reviews, pd.DataFrame({"show_id": [999], "song": [song], "listening": [2]})]),
    )

    before, after = (answers.compare(tour).ratios.set_index(["about", "which"]).after for tour in (short, later))
    assert before.sum() == after.sum()
