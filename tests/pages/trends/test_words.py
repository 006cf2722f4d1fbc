"""Playing trends and the leg review: prose, tables and charts from the same figures; what is personal stays out."""

import re
from types import SimpleNamespace

import pandas as pd
import pytest

from tests.models.playing.simulated import tour
from tourstats.models.playing import performances
from tourstats.pages.chart import rates
from tourstats.pages.kit.charts import svg
from tourstats.pages.review import printed
from tourstats.pages.review import words as review
from tourstats.pages.trends import chart as drawn
from tourstats.pages.trends import words as trends
from tourstats.tour import Tour


@pytest.fixture(scope="module")
def book():
    made = tour(8, shows=40, change=(32, 2.5))
    said = {
        "kind": "entry",
        "section": "bridge",
        "cause": "playing",
        "remark": "asleep at the bridge <b>",
        "severity": 3,
    }
    notes = {
        "song": ["Song 3", "Song 4"], "text": ["softer * here", "my wrist hurts"],
        "personal": [False, True],
    }  # fmt: skip
    last_leg = made.shows[made.shows.leg == "Autumn"]
    notes["date"] = [last_leg.date.iloc[0], last_leg.date.iloc[1]]
    mistakes = made.mistakes.assign(remark=None, kind=None, section=None, cause=None)
    mine = mistakes[mistakes.show_id.isin(last_leg.show_id)].index[0]
    for name, value in said.items():
        mistakes.loc[mine, name] = value
    return Tour.of(
        songs=pd.DataFrame({"song": made.plays.song.unique(), "minutes": 4.0}),
        shows=made.shows, plays=made.plays, reviews=made.reviews, mistakes=mistakes, notes=pd.DataFrame(notes),
    )  # fmt: skip


@pytest.fixture(scope="module")
def found(book):
    return trends.read(book)


@pytest.fixture(scope="module")
def empty(book):
    return book.replaced(reviews=book.reviews.head(0), mistakes=book.mistakes.head(0))


def test_a_ratio_is_said_with_its_interval():
    """
    As musicians say it, in words first.
    """
    row = pd.DataFrame(
        {"ratio": [1.42], "low": [1.13], "high": [1.8], "words": [trends.WORDS["layoff"]], "clear": [True]}
    )
    said = trends.effect_sentence(next(row.itertuples()))

    assert "1.4 times as many mistakes after ten shows off (1.1 to 1.8 times)" == said


def test_how_many_shows_are_reviewed_is_said_with_what_it_is_of():
    """
    Of those since the first one reviewed: all twelve, and twelve of sixteen; not a share of the whole tour.
    """
    for share, said in ((1.0, "12 of 12 are reviewed"), (0.75, "12 of 16 are reviewed")):
        shows = SimpleNamespace(control=pd.DataFrame({"share": [share] * 12}))

        assert f"From the first show that you reviewed to the latest, {said}" in trends.seen_within(shows)


def test_prose_and_charts_of_effects_come_from_one_table(found):
    """
    Every sentence's figures are those of its row, and so are the chart's.
    """
    chart = drawn.effects(found.effects, trends.effects_title(found)).to_dict()
    drawn_rows = next(rows for rows in chart["datasets"].values() if "words" in rows[0])
    told = trends.effects_words(found)
    clear = found.effects[found.effects.clear]

    assert len(clear) == told.count("- ")
    for row in clear.itertuples():
        assert trends.as_many(row.ratio, row.low, row.high, row.words) in told
    assert [row["ratio"] for row in drawn_rows] == pytest.approx(found.effects.ratio.tolist())


def test_prose_and_chart_of_layoffs_come_from_one_table(found):
    """
    The sentence reads the curve at ten shows off.
    """
    chart = drawn.layoff_curve(found.curve, trends.curve_words(found)).to_dict()
    at = next(row for rows in chart["datasets"].values() for row in rows if row["shows_off"] == 10)

    assert trends.times(at["ratio"], at["low"], at["high"]) in trends.curve_words(found)
    assert f"10 shows off, not run: {at['ratio']:.2f}" in chart["description"]


def test_prose_and_chart_of_shows_come_from_one_table(found):
    """
    As many shows stand out in the sentence as in the chart; a change was put in, so there are some.
    """
    chart = drawn.control(found.control, trends.control_words(found)).to_dict()
    rows = next(rows for rows in chart["datasets"].values() if "signal" in rows[0])
    loud = [row for row in rows if row["signal"]]

    assert 0 < len(loud) == int(re.match(r"\d+", trends.control_words(found))[0])
    assert len(loud) == chart["description"].count(" expected, ")


def test_prose_and_chart_of_songs_come_from_one_table(found):
    """
    The title names the first row and its rate.
    """
    rows = found.songs[found.songs.basis == "reviews"]
    chart = rates(rows.drop(columns="basis"), trends.songs_title(found)).to_dict()
    first = next(iter(chart["datasets"].values()))[0]

    assert trends.songs_title(found).startswith(first["group"])
    assert f"{first['rate']:.2f} ({first['low']:.2f} to {first['high']:.2f})" in trends.songs_title(found)


@pytest.mark.parametrize("draw", ["effects", "layoff_curve", "control"])
def test_each_chart_has_words_units_and_a_picture(found, draw):
    """
    A description for screen readers, titles on numeric axes, and an SVG that opens with that description.
    """
    frame = {"effects": found.effects, "layoff_curve": found.curve, "control": found.control}[draw]
    chart = getattr(drawn, draw)(frame, "A finding")

    assert len(chart.to_dict()["description"]) > 60
    assert "mistakes" in svg(chart)
    assert svg(chart) == svg(getattr(drawn, draw)(frame, "A finding"))


def test_nothing_reviewed_says_so_everywhere(empty):
    """
    On day one each sentence is there, none is an error, and the layoff curve names its starting value as such.
    """
    found = trends.read(empty)

    assert trends.NO_REVIEWS == trends.in_short(found) == trends.effects_words(found)
    assert "0 reviewed shows, it takes 8" in trends.left_out_words(found)
    assert "Assumed until 8 reviewed shows (0 so far)" in trends.curve_words(found)
    assert "0 so far, it takes 10" in trends.ear_words(found)
    assert "No song was reviewed yet" == trends.songs_title(found)


def test_few_reviews_say_how_many_and_how_many_it_takes(book):
    """
    Three reviewed shows.
    """
    heard, found = (table[table.show_id <= 3] for table in (book.reviews, book.mistakes))
    few = book.replaced(reviews=heard, mistakes=found)
    told = trends.in_short(trends.read(few))

    assert "Not enough reviews yet to say what goes with mistakes: 3 reviewed shows, it takes 8." in told


def test_what_is_left_out_has_its_reason(found):
    """
    Each circumstance that is not used is named once, and each reason once.
    """
    told = trends.left_out_words(found)
    out = found.used[~found.used.used]

    assert re.search(r"second shows of a day[^;()]*\(always the same\)", told)
    assert [1] * len(out) == [len(re.findall(rf"\b{trends._name(one)}\b", told)) for one in out.circumstance]
    assert len({trends._comes_in(row) for row in out.itertuples()}) == told.count("(")


def test_no_medical_claim(found):
    """
    The page defers to a health professional, and promises nothing.
    """
    assert "health professional" in trends.CAUTION
    assert not re.search(r"\b(cure|heal|treat|safe)\b", trends.in_short(found) + trends.effects_words(found))


def test_the_review_has_its_parts_in_order(book):
    """
    Prose with computed numbers, the leg before, what surprised, the break, notes, forecasts, freshness.
    """
    headings = [part.heading for part in review.parts(book, charts=False)]

    assert ["At a glance", "What got better, what did not", "What goes with mistakes"] == headings[:3]
    assert {"For the break", "Notes worth reading again", "Freshness for people who travelled"} <= set(headings)


def test_numbers_of_the_review_are_those_of_the_trends(book, found):
    """
    The last leg's review and the page of the same day say the same of layoffs and shows.
    """
    parts = {part.heading: part.words for part in review.parts(book, charts=False)}

    assert trends.curve_words(found) == parts["Layoffs"]
    assert parts["Show by show: what surprised"].startswith(trends.control_words(found))


def test_an_earlier_leg_is_read_as_it_stood(book):
    """
    Nothing after its last show counts: leaving it out changes nothing.
    """
    spring = book.shows[book.shows.leg == "Spring"].show_id
    cut = book.replaced(
        **{
            name: t[t.show_id.isin(spring)]
            for name in ("shows", "plays", "reviews", "mistakes")
            for t in [getattr(book, name)]
        },
    )
    whole, part = (review.parts(tables, "Spring", charts=False) for tables in (book, cut))

    assert [p.words for p in part] == [p.words for p in whole]
    assert "What got better, what did not" not in [p.heading for p in whole]


def test_what_is_personal_stays_out_unless_it_is_asked_for(book, tmp_path):
    """
    The file to send has the shared note and neither the personal one nor a remark; asked for, it has all, escaped.
    """
    shared = printed.write(book, tmp_path / "shared").html.read_text(encoding="utf-8")
    own = printed.write(book, tmp_path / "own", personal=True).html.read_text(encoding="utf-8")

    assert "softer * here" in shared
    assert "my wrist hurts" not in shared
    assert "asleep at the bridge" not in shared
    assert "my wrist hurts" in own
    assert "asleep at the bridge &lt;b&gt;" in own


def test_the_file_is_one_page_and_a_pdf(book, tmp_path):
    """
    HTML that asks for nothing else, with its pictures in it, and a tagged PDF; the same bytes of HTML again.
    """
    written = printed.write(book, tmp_path)
    page = written.html.read_text(encoding="utf-8")

    assert ["leg-review-autumn.html", "leg-review-autumn.pdf"] == [written.html.name, written.pdf.name]
    assert written.pdf.read_bytes().startswith(b"%PDF")
    assert not re.search(r'(src|href)="(?!data:|#)', page)
    assert 3 == page.count("<svg ")
    assert page == printed.write(book, tmp_path).html.read_text(encoding="utf-8")


def test_a_sign_that_no_font_draws_is_said(book, tmp_path):
    """
    A note in a script without a font is printed without those signs, which are named.
    """
    notes = book.notes.assign(text=["tap \U00013080 here", "x"])
    written = printed.write(book.replaced(notes=notes), tmp_path)

    assert written.left_out in ("\U00013080", "")
    assert written.pdf.read_bytes().startswith(b"%PDF")


def test_a_leg_that_is_not_there_is_answered_with_those_that_are(book):
    """
    The sentence names the legs.
    """
    with pytest.raises(review.ReviewProblem) as caught:
        review.parts(book, "Winter")

    assert "There is no leg Winter with a played set. Legs: Spring, Autumn. Choose one of these." == str(caught.value)


def test_a_leg_without_reviews_has_a_review(empty, tmp_path):
    """
    Parts without data are left out; what is known is there.
    """
    headings = [part.heading for part in review.parts(empty, charts=False)]

    assert "At a glance" == headings[0]
    assert "What goes with mistakes" not in headings
    assert printed.write(empty, tmp_path).pdf.exists()


def test_who_writes_down_only_what_went_wrong_is_told_so(book):
    """
    No clean performance is in the reviews: no rate, no effect and no show is told, but what to do.
    """
    only = book.replaced(reviews=book.mistakes[["show_id", "song"]].drop_duplicates())
    found = trends.read(only)

    assert not trends.read(book).faults_only
    assert "only what went wrong was written down" in trends.in_short(found)
    assert "not one was clean" in trends.in_short(found)
    assert trends.faults_words(found) == trends.effects_words(found)
    assert "Only what went wrong was written down: no rates" == trends.songs_title(found)
    parts = {part.heading: part.words for part in review.parts(only, charts=False)}
    assert "only what went wrong was written down" in parts["At a glance"]
    assert not {"What goes with mistakes", "Where the mistakes are", "For the break"} & parts.keys()


def test_one_reviewed_show_tells_no_song_from_another(book):
    """
    Each of some twenty songs was heard once.
    """
    first = book.shows.show_id.iloc[0]
    one = book.replaced(
        reviews=book.reviews[book.reviews.show_id == first], mistakes=book.mistakes[book.mistakes.show_id == first]
    )

    assert "The reviews do not tell one song from another yet" == trends.songs_title(trends.read(one))


def test_what_was_known_of_each_song_is_worked_out_once_for_the_page(book, monkeypatch):
    """
    With runs, and once more without them for the monitoring, which knows of none: it was done seven times.
    """
    asked, made = [], performances._new_transitions
    monkeypatch.setattr(performances, "_new_transitions", lambda plays: asked.append(len(plays)) or made(plays))
    trends.read(book.until(book.shows.show_id.iloc[-1]))

    assert 2 == len(asked)
