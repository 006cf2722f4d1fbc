"""Which circumstances the reviews carry: each clause of the rule, where it bites and where it just does not."""

import numpy as np
import pytest

from tests.models.playing.simulated import tour
from tourstats.models.playing.design import design
from tourstats.models.playing.performances import performances


@pytest.fixture(scope="module")
def table():
    return performances(*tour(11, shows=40).tables)


def account(table):
    return design(table).decided.set_index("circumstance")


def telling(table):
    """Rows of songs that were reviewed twice and not always clean."""
    song = table.groupby("song").mistakes
    return table[(song.transform("size") > 1) & (song.transform("sum") > 0)]


def test_mistakes_carry_ten_for_each_coefficient_and_forty_when_more_is_asked(table):
    """
    With 36 mistakes in telling songs three coefficients are carried; what is asked then needs forty for each.
    """
    rows = telling(table)
    kept = rows[rows.mistakes > 0].index[:36]
    few = table.assign(mistakes=np.where(table.index.isin(kept), 1, 0))
    few["usual room"], few["room"], few["break"] = "theatre", "theatre", 0.0
    decided = account(few)
    enough = account(table.assign(mistakes=9))

    assert 36 == telling(few).mistakes.sum()
    assert ["layoff", "position"] == list(decided.index[decided.used & ~decided.index.isin(["first", "break"])])
    assert [36, 40] == decided.loc["date", ["have", "need"]].tolist()
    assert [36, 160] == decided.loc["new transition", ["have", "need"]].tolist()
    assert enough.used[["layoff", "position", "date", "new transition"]].all()


def test_mistakes_in_songs_reviewed_once_do_not_count(table):
    """
    They say nothing of what differs within a song.
    """
    again = table.groupby("song").cumcount() > 0
    once = table[~again].assign(mistakes=5)
    decided = account(once)

    assert not decided.used.any()
    assert {"it never differs"} == set(decided.because) - {"too few performances with it"}


@pytest.mark.parametrize(("shows", "used"), [(1, False), (2, True)])
def test_a_room_is_told_from_two_shows_on(table, shows, used):
    """
    With one it is held still, and the account says how many there are.
    """
    festivals = table["at"].unique()[5 : 5 + shows]
    rows = table.assign(room=np.where(table["at"].isin(festivals), "festival", "theatre"), **{"usual room": "theatre"})
    decided = account(rows).loc["room: festival"]

    assert used == decided.used
    assert ("" if used else "too few shows with it") == decided.because
    assert used or [shows, 2] == [decided.have, decided.need]


def test_what_goes_together_is_told_once(table):
    """
    An encore that is every transition never played: the second of the two is left out.
    """
    rows = table.assign(mistakes=9, encore=table["new transition"])
    decided = account(rows)

    assert decided.used["new transition"]
    assert not decided.used["encore"]
    assert "it goes together with other circumstances" == decided.because["encore"]
    assert decided.have["encore"] < 1e-9


def test_a_layoff_that_never_differs_within_a_song_is_left_out(table):
    """
    Songs differ in it, and each song is always the same: nothing can be told from that.
    """
    own = dict(zip(table.song.unique(), np.linspace(0, 2, table.song.nunique()), strict=True))
    decided = account(table.assign(layoff=table.song.map(own))).loc["layoff"]

    assert not decided.used
    assert "it goes together with other circumstances" == decided.because
