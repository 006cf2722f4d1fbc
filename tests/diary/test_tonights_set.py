"""Tonight is the show that was named: by its number, its day, its town, its venue, or the heading of the set."""

from datetime import date

import pytest

from tourstats import diary
from tourstats.diary.tonights_set import Named, WhichShowProblem, earlier_sets, headed_day, show_of

TODAY = date(2031, 10, 9)


@pytest.fixture
def book(tmp_path):
    """A diary with a show played, one today, and two to come."""
    with diary.opened(tmp_path / "tour.sqlite") as opened:
        for song in ("Ferry", "Tin Rook"):
            opened.add_song(song)
        opened.write_set(opened.add_show("2031-10-07", "Ostby"), ["Ferry"], "played")
        opened.add_show("2031-10-09", "Westhallow")
        opened.add_show("2031-10-10", "Tarnholt", venue="Tithe Shed")
        opened.add_show("2031-12-01", "Gorrow")
        yield opened


def town(book, named=Named(), headed=None, today=TODAY):  # noqa: B008  # frozen
    """Town and day of the show that a set is for."""
    show_id = show_of(book, named, today, headed)
    show = book.shows().set_index("show_id").loc[show_id]
    return show.city, f"{show.date:%m-%d}"


NAMED = {
    "nothing": (Named(), {}, ("Westhallow", "10-09")),
    "its number": (Named(show_id=3), {}, ("Tarnholt", "10-10")),
    "its number, against the heading": (Named(show_id=2), {"city": "Tarnholt"}, ("Westhallow", "10-09")),
    "its day": (Named(day=date(2031, 10, 10)), {}, ("Tarnholt", "10-10")),
    "the day of the heading": (Named(), {"day": "10.10."}, ("Tarnholt", "10-10")),
    "the day of the heading in words": (Named(), {"day": "10 October"}, ("Tarnholt", "10-10")),
    "town and day of the heading": (Named(), {"city": "Tarnholt", "day": "10/10/31"}, ("Tarnholt", "10-10")),
    "a new town today": (Named(city="Lemsel"), {}, ("Lemsel", "10-09")),
    "a new town headed and named": (Named(city="Ostby"), {"city": "Ostby"}, ("Ostby", "10-09")),
    "a day nobody knows, with a town": (Named(), {"day": "12.10.", "city": "Gorrow"}, ("Gorrow", "10-12")),
}


@pytest.mark.parametrize(("named", "headed", "expected"), NAMED.values(), ids=NAMED)
def test_the_show_is_the_one_that_was_named(book, named, headed, expected):
    """
    The number decides alone; else the day and the town, by the command or by the heading.
    """
    assert expected == town(book, named, headed)


ASKED = {
    "another town than today's show": (Named(), {"city": "Tarnholt"}, "city Westhallow; the set says Tarnholt"),
    "another day than the command's": (Named(day=TODAY), {"day": "10.10."}, 'headed "10.10."'),
    "another town than the command's": (Named(city="Westhallow"), {"city": "Tarnholt"}, 'headed "Tarnholt"'),
    "a day that may be two": (Named(), {"day": "9/11"}, "--date 2031-11-09 .* or --date 2031-09-11"),
    "a day nobody knows, without a town": (Named(), {"day": "12.10."}, "--city CITY"),
    "a heading with places nobody knows": (
        Named(), {"day": "12.10.", "place": "Lemsel, Corn Loft"},
        '--date 2031-10-12 --city "Lemsel" --venue "Corn Loft"',
    ),
    "another venue": (Named(day=date(2031, 10, 10), venue="Corn Loft"), {}, "Tithe Shed; the command"),
}  # fmt: skip


@pytest.mark.parametrize(("named", "headed", "said"), ASKED.values(), ids=ASKED)
def test_what_does_not_agree_is_asked_about_and_nothing_is_written(book, named, headed, said):
    """
    A sentence says what speaks against it; no show is added or changed.
    """
    before = book.shows()

    with pytest.raises(WhichShowProblem, match=said):
        show_of(book, named, TODAY, headed)

    assert before.equals(book.shows())


def test_a_heading_with_places_nobody_knows_is_taken_where_it_is_accepted(book):
    """
    City and venue as they stand there, on the day of the heading.
    """
    show_id = show_of(book, Named(), TODAY, {"day": "12.10.", "place": "Lemsel, Corn Loft"}, accept=True)
    show = book.shows().set_index("show_id").loc[show_id]

    assert ("Lemsel", "Corn Loft", "10-12") == (show.city, show.venue, f"{show.date:%m-%d}")


def test_a_show_to_come_is_found_by_its_town(book):
    """
    On a day without a show the town tells which of the next days is meant; one of two months ahead is not.
    """
    tomorrow = date(2031, 10, 8)

    assert ("Tarnholt", "10-10") == town(book, Named(city="Tarnholt"), today=tomorrow)
    assert ("Gorrow", "10-08") == town(book, Named(city="Gorrow"), today=tomorrow)


def test_venue_and_kind_of_room_are_filled_in_later(book):
    """
    What was not known when the show was written down is taken from a second command, or from the heading.
    """
    show_id = show_of(book, Named(), TODAY, {})
    show_of(book, Named(room="club"), TODAY, {"venue": "Corn Loft"})

    shows = book.shows().set_index("show_id")
    assert ("Corn Loft", "club") == (shows.venue[show_id], shows.room[show_id])


def test_of_two_shows_on_one_day_the_venue_or_the_first_set_played_tells(book):
    """
    A matinee and an evening: with nothing said they are asked about; the venue names one; one played leaves the other.
    """
    matinee = book.add_show("2031-10-09", "Westhallow", venue="Corn Loft", number=2)
    evening = book.add_show("2031-10-09", "Westhallow", venue="Tithe Shed, Westhallow", number=3)
    book.write_set(2, ["Ferry"], "played")

    with pytest.raises(WhichShowProblem, match=f"--show {matinee} .*; --show {evening} "):
        show_of(book, Named(), TODAY)
    assert matinee == show_of(book, Named(venue="Corn Loft"), TODAY)

    book.write_set(matinee, ["Tin Rook"], "played")
    assert evening == show_of(book, Named(), TODAY)


def test_a_heading_means_the_nearest_year_and_the_weekday_tells_which_of_two_days(book):
    """
    On 2 January "30.12." is three days ago. 5/10 was a Sunday in 2031; 10 May was a Saturday.
    """
    none = book.shows().iloc[:0]

    assert [date(2031, 12, 30)] == headed_day({"day": "30.12."}, date(2032, 1, 2), none)
    assert [date(2031, 10, 5)] == headed_day({"day": "Sunday 5/10"}, TODAY, none)


def test_the_sets_before_a_day_are_as_played_or_else_as_planned(book):
    """
    Yesterday's plan counts where nobody said what was played; a show of the day itself only once it was played.
    """
    book.write_set(2, ["Tin Rook"], "planned")

    assert ["Ferry", "Tin Rook"] == earlier_sets(book.read(), date(2031, 10, 10)).song.tolist()
    assert ["Ferry"] == earlier_sets(book.read(), TODAY).song.tolist()
