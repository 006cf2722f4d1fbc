"""A number that stands on two pages, in a command or in JupyterLab is the same number everywhere."""

import re

import numpy as np
import pandas as pd
import pytest

import tourstats as ts
from tests.models.playing import rehearsed
from tourstats.models import playing, song
from tourstats.pages.likely import words as likely
from tourstats.pages.review import words as review
from tourstats.pages.show_day import words as show_day
from tourstats.pages.song import words as song_words
from tourstats.pages.today import words as today
from tourstats.pages.trends import words as trends
from tourstats.tour import Tour


def made_up():
    """Two legs, the last show still to come with its set handed out, some runs of that day made."""
    made = rehearsed.tour(7, "risky", shows=20)
    shows = made.shows.sort_values("date", ignore_index=True)
    shows["leg"] = np.where(np.arange(len(shows)) < len(shows) // 2, "Spring", "Autumn")
    last = shows.show_id.iloc[-1]
    before = {
        name: table[table.show_id != last]
        for name, table in (("plays", made.plays), ("reviews", made.reviews), ("mistakes", made.mistakes))
    }
    planned = made.plays[made.plays.show_id == last]
    heard = pd.MultiIndex.from_frame(before["mistakes"][["show_id", "song"]])
    clean = before["reviews"][~pd.MultiIndex.from_frame(before["reviews"][["show_id", "song"]]).isin(heard)].iloc[::9]
    again = clean[["show_id", "song"]].assign(listening=2)  # what the first listening did not find
    before["reviews"] = pd.concat([before["reviews"], again])
    before["mistakes"] = pd.concat([before["mistakes"], again.assign(severity=1)])
    songs = made.songs.assign(minutes=4.0)
    return Tour.of(songs=songs, shows=shows, planned=planned, rehearsals=made.rehearsals, **before)


@pytest.fixture(scope="module", params=["made up", "demo"])
def tour(request):
    return made_up() if request.param == "made up" else ts.read("demo")


def again_in(tour):
    """Two songs in which the second listening found what the first did not."""
    return tour.mistakes.song[tour.mistakes.listening == 2].unique()[:2]  # the second listening


@pytest.fixture(scope="module")
def brief(tour):
    return ts.brief(tour)


def test_the_set_adds_up_to_what_is_said_of_it(tour, brief):
    """
    Expected mistakes of the songs are those of the set: on the page, in the command and on Today.
    """
    total = float(brief.total.expected.iloc[0])
    row = brief.total.iloc[0]
    told = " ".join(show_day.as_text(brief).split())

    assert brief.set.drop_duplicates("song").expected.sum() == pytest.approx(total)
    assert f"{int(row.range_low)} to {int(row.range_high)} mistakes" in told
    assert brief.care.expected.tolist() == pytest.approx(
        brief.set.drop_duplicates("song").set_index("song").expected[brief.care.song].tolist()
    )
    assert brief.plan.equals(ts.plan(tour))
    assert str(len(brief.set)) in str(today.now(tour))


def test_what_a_run_takes_is_one_figure(tour, brief):
    """
    In the plan, on Playing trends, in the effects of JupyterLab.
    """
    effects = ts.effects(tour).set_index("effect")
    kit = brief.runs.set_index("way").loc["kit"]
    page = trends.read(tour).effects.set_index("effect")

    assert effects[["ratio", "low", "high"]].equals(page[["ratio", "low", "high"]])
    assert "run: kit" not in effects.index or effects.ratio["run: kit"] == pytest.approx(1 - kit.takes)


def test_a_song_is_out_for_as_long_everywhere(tour, brief):
    """
    Rotation, show day and A song: shows and days out, plays, and what is usual.
    """
    out = ts.layoffs(tour).set_index("song")
    columns = ["layoff_shows", "layoff_days", "plays", "usual_low", "usual_high"]
    tonight = brief.set.drop_duplicates("song").set_index("song")
    for title in brief.set.song[::6]:
        facts = ts.song(tour, title).facts
        assert [*out.loc[title, columns]] == [*tonight.loc[title, columns]] or out.loc[title, columns].isna().any()
        assert [out.layoff_shows[title], out.plays[title]] == [facts["layoff_shows"], facts["plays"]]


def test_chances_are_one_forecast(tour):
    """
    Likely swaps, its command, A song and JupyterLab.
    """
    said = ts.forecast(tour)
    chance = said.songs.set_index("song").chance
    listed = likely.to_run(likely.forecast(tour))
    first, text = listed.song[0], likely.as_text(tour)

    assert listed.chance.tolist() == chance[listed.song].tolist()
    assert re.search(rf"{first}\b.* {chance[first]:.0%}", text)
    assert f"about {listed.chance.sum():.1f} of these {likely._expected(said):.1f}" in text.replace(
        "\n", " "
    )  # as said
    assert chance[first] == ts.song(tour, first).chance
    assert f"{chance[first]:.0%}" in song_words.parts(ts.song(tour, first))[0].words


def test_reviews_and_mistakes_are_counted_alike(tour):
    """
    Rates of JupyterLab, Playing trends, the safe songs, A song, and the record of the leg review.
    """
    rates = ts.rates(tour).set_index("song")
    page = trends.read(tour).songs.set_index("song")
    safe = song.safe(tour).set_index("song")
    control = ts.control(tour)

    assert rates[["reviewed", "mistakes"]].equals(page.loc[rates.index, ["reviewed", "mistakes"]])
    assert rates.rate.tolist() == pytest.approx(page.rate[rates.index].tolist())
    assert rates.reviewed.equals(safe.reviewed[rates.index])
    assert control.mistakes.sum() == rates.mistakes.sum() == len(tour.mistakes[tour.mistakes.listening == 1])
    for title in [*again_in(tour), *rates.index[::20]]:
        streak = ts.song(tour, title).streak
        assert (rates.reviewed[title], safe.clean[title], safe.safe[title]) == (
            streak.reviewed, streak.clean, streak.holds
        )  # fmt: skip


def test_the_leg_review_says_what_jupyterlab_says(tour):
    """
    What changed is `ts.compare`, what goes with mistakes is `ts.effects`, and the record of what was expected adds up.
    """
    whole = ts.compare(tour).ratios.iloc[0]
    leg = review.leg_of(tour, None)
    changed = review._changed(leg).words  # one part of the page is asked for, not all
    fifths = playing.by_fifths(playing.expected_record(tour))

    assert trends.as_many(whole.ratio, whole.low, whole.high).lower() in changed
    assert leg.trends.effects[["effect", "ratio", "clear"]].equals(ts.effects(tour)[["effect", "ratio", "clear"]])
    assert (fifths.expected.diff().dropna() > 0).all()
