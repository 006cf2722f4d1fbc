"""Repeat audience on the page: sentences from whichever data there are, and nothing about a few people."""

import ast
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import tourstats.pages.audience.words as page
from tests.pages.open_cells import NOTEBOOKS, read, sources
from tests.pages.open_cells import shown as open_cells
from tourstats.models import audience
from tourstats.pages.audience import chart as drawn
from tourstats.pages.kit.charts import svg
from tourstats.tour import Tour

ROOMS = Path(page.__file__).parents[2]
OF_PEOPLE = {"freshness", "by_attendance", "heard_most", "newest_for", "tonight", "from_scans"}
WORDS = [
    page.kinds_of_data, page.in_short, page.curve_words, page.unheard_words, page.coming_again_words,
    page.review_paragraph,
]  # fmt: skip


@pytest.fixture(scope="module")
def book():
    random = np.random.default_rng(1)
    songs = [f"Song {n:02}" for n in range(40)]
    legs = ["Spring"] * 6 + ["Summer"] * 9
    shows = pd.DataFrame({
        "show_id": range(1, 16), "date": pd.date_range("2031-03-01", periods=15), "leg": legs,
        "city": ["Aldmoor", "Tarve", "Holk"] * 5,
    })  # fmt: skip
    sets = {show: random.choice(songs, 12, replace=False) for show in shows.show_id}
    rows = [(show, at, song) for show, its in sets.items() for at, song in enumerate(its, start=1)]
    plays = pd.DataFrame(rows, columns=["show_id", "position", "song"])
    people = [
        (f"{person:032x}", show)
        for person in range(90)
        for show in random.choice(np.arange(1, 15), min(1 + random.geometric(0.5), 6) - person % 2, replace=False)
    ]
    counts = pd.DataFrame({"show_id": [9, 12], "people": [2100, 900], "earlier": [8, 11], "returning": [300, 60]})
    return Tour.of(
        songs=pd.DataFrame({"song": songs}), shows=shows, plays=plays[plays.show_id < 15],
        planned=plays[plays.show_id == 15], counts=counts,
        attendance=pd.DataFrame(people, columns=["person", "show_id"]),
    )  # fmt: skip


def travellers(book):
    leg = page.leg_of(book)
    return audience.heard_most(leg.plays, leg.shows, leg.attendance, hide_under=5)


def less(book, *names):
    return book.replaced(**{name: getattr(book, name).head(0) for name in names})


def kinds(book):
    return {
        "list": book,
        "counts": less(book, "attendance"),
        "sets": less(book, "attendance", "counts"),
        "one show": less(book, "attendance", "counts").replaced(plays=book.plays[book.plays.show_id == 1]),
        "nothing": less(book, "attendance", "counts", "plays", "planned"),
        "no shows": less(book, "attendance", "counts", "plays", "planned", "shows", "songs"),
    }


@pytest.mark.parametrize("kind", ["list", "counts", "sets", "one show", "nothing", "no shows"])
def test_every_part_of_the_page_works_from_whatever_there_is(book, kind):
    """
    A list, counts, sets alone, one show, a new diary, an empty one: sentences, tables and pictures, no error.
    """
    tables = kinds(book)[kind]
    leg = page.leg_of(tables)
    said = [function(tables) for function in WORDS]
    shown = [read(value) for tags, _, value in open_cells("06", tables) if "own-question" not in tags]
    charts = [
        drawn.shared_songs(audience.shared(leg.plays, leg.shows), leg.shows),
        drawn.heard_curve(page.curve(tables)),
        drawn.fresh_nights(page.nights(tables)),
    ]

    assert not [text for text in [*said, *shown] if "nan" in text.casefold().split()]
    assert not [text for text in said if ".0 " in text]
    assert all(svg(chart).startswith("<svg") for chart in charts)
    assert not [chart for chart in charts if "nan" in chart.to_dict()["description"]]


def test_the_page_says_which_kind_of_data_it_uses(book):
    """
    Plainly, for each of the three.
    """
    said = {kind: page.kinds_of_data(tables) for kind, tables in kinds(book).items()}

    assert said["list"].startswith("**This page uses a list of who was where** (")
    small = (
        " Groups of fewer than 5 people are not shown, and numbers of people are rounded to 5, so that no two tables "
        "give a small group away by their difference."
    )
    assert said["list"].endswith(f"On 2 nights somebody counted, too.{small}")
    assert said["counts"] == (
        f"**This page uses counts** of who came back (2 nights), besides the sets of 14 shows.{small}"
    )
    assert said["sets"].startswith("**This page uses sets only**: the sets of 14 shows. It says what somebody would")


def test_the_short_words_are_those_of_the_models(book):
    """
    Computed, leg by leg, and told for whom.
    """
    leg = page.leg_of(book)
    fresh = audience.freshness(leg.plays, leg.shows, leg.attendance, hide_under=5).fresh_share.dropna()
    after = audience.after_last(leg.plays, leg.shows, [1]).fresh_share.dropna()
    need = audience.shows_to_hear(leg.plays, leg.shows).shows.tolist()
    short, sets = page.in_short(book), page.in_short(less(book, "attendance", "counts"))

    assert "Summer" == leg.name
    assert short.startswith(
        f"**On Summer, {fresh.mean():.0%} of a set was new to those who had been at an earlier show of the leg** "
        f"(from {fresh.min():.0%} to {fresh.max():.0%}, show by show, as the list has them)."
    )
    assert f"it takes {need[0]} of its 8 shows, or {need[1]} in a row." in short
    assert "The set planned for 15 March in Holk is " in short
    assert short.endswith(" new to somebody who was at the last show.")
    assert sets.startswith(
        f"**On Summer, {after.mean():.0%} of a set was new to somebody who had been at the show before** "
        f"(from {after.min():.0%} to {after.max():.0%})."
    )


def test_the_review_has_a_paragraph_on_any_leg(book):
    """
    Of the leg that is named, or of the last one.
    """
    assert page.review_paragraph(book, "Spring").startswith("On Spring 34 songs were played at 6 shows; ")
    assert page.review_paragraph(book).startswith("On Summer 39 songs were played at 8 shows; ")
    assert "To those who came again it was " in page.review_paragraph(book)
    assert "No set was played on Winter." == page.review_paragraph(book, "Winter")


def test_a_leg_counts_only_its_own_shows(book):
    """
    Somebody who was at a spring show is a newcomer on the first summer night.
    """
    first = page.nights(book).iloc[0]

    assert 7 == first.show_id
    assert 0 == first["repeat"]
    assert pd.isna(first.after_last)


def calls(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            yield node.func.attr, node


def test_whatever_shows_people_asks_for_small_groups_to_be_hidden():
    """
    Every call of a model of the audience from a page, a command or the brief says `hide_under`, and what it says is the
    one constant; so do the notebooks.
    """
    asked = []
    files = [*ROOMS.glob("pages/**/*.py"), ROOMS / "models" / "tonight.py", *ROOMS.glob("cli.py")]
    for path in files:
        for name, node in calls(ast.parse(path.read_text(encoding="utf-8"))):
            of_audience = isinstance(node.func.value, ast.Name) and node.func.value.id in ("audience", "asked")
            if name in OF_PEOPLE and of_audience:
                least = [ast.unparse(key.value) for key in node.keywords if key.arg == "hide_under"]
                asked.append((path.name, name, least in (["SMALLEST"], ["audience.SMALLEST"])))

    assert [] == [call for call in asked if not call[2]]
    cells = "\n".join(source for _, source in sources(NOTEBOOKS / "06-repeat-audience.ipynb"))
    open_calls = [node for node in ast.walk(ast.parse(cells)) if isinstance(node, ast.Call)]
    of_people = [node for node in open_calls if getattr(node.func, "attr", "") in OF_PEOPLE]
    models = [node for node in of_people if getattr(node.func.value, "id", "") == "models"]
    names = {name for _, name, _ in asked} | {node.func.attr for node in models}
    assert {"freshness", "by_attendance", "heard_most", "newest_for", "tonight"} <= names
    assert all("hide_under" in [keyword.arg for keyword in node.keywords] for node in models)


def test_no_table_or_picture_holds_a_small_number_of_people(book):
    """
    Of anybody who was there, what is drawn and shown is none, or five, or more.
    """
    nights, curve, most = (made(book) for made in (page.nights, page.curve, travellers))
    numbers = pd.concat([nights.attendees, nights["repeat"], curve.people, most.heard, most.attendees]).dropna()

    assert not numbers.between(1, 4).any()
    assert (numbers.astype(float) % 5 == 0).all()
    exact = audience.freshness(book.plays, book.shows, book.attendance)
    assert exact["repeat"].between(1, 4).any()


def test_nothing_that_is_shown_holds_a_hash(book):
    """
    Nobody's hash is in a table, a sentence or a picture.
    """
    shown = "".join(read(value) for _, _, value in open_cells("06", book)) + page.review_paragraph(book)
    pictures = str(drawn.heard_curve(page.curve(book)).to_dict()) + str(drawn.fresh_nights(page.nights(book)).to_dict())

    assert not [person for person in book.attendance.person.unique() if person in shown + pictures]


def test_pictures_state_what_they_show(book):
    """
    Titles are findings, with the numbers of the table.
    """
    leg, curve = page.leg_of(book), page.curve(book)
    pairs = audience.shared(leg.plays, leg.shows)
    near = pairs[pairs.show_id - pairs.earlier == 1].shared
    five = curve[curve.shows == 5].set_index("way").songs

    said = drawn.shared_songs(pairs, leg.shows).to_dict()
    assert f"Two shows in a row shared {near.min()} to {near.max()} songs" in " ".join(said["title"]["text"])
    said = drawn.heard_curve(curve).to_dict()
    assert f"At any 5 shows one hears {five['any shows']:.0f} songs, in a row {five['shows in a row']:.0f}" == " ".join(
        said["title"]["text"]
    )
