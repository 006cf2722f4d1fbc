"""What counts say: "of 2,100 tonight, about 300 were here yesterday"."""

from __future__ import annotations

import numpy as np
import pandas as pd

from tourstats import tables
from tourstats.models.audience import small
from tourstats.models.audience.from_sets import Floats, Sets, Z
from tourstats.problems import TableProblem

BASE = 10


def returning_shares(counts: pd.DataFrame, *, rounded_to: int | None = None) -> pd.DataFrame:
    """Share of each night's audience that was at an earlier show, with what rounding and sampling leave open.

    Parameters
    ----------
    counts
        As in `tables.Counts`. A further column `asked` may say how many people were asked, if not everybody was
        counted; `returning` still says how many that makes of all `people`.
    rounded_to
        Unit to which the numbers were rounded. By default it is read off each number: 300 is a number of hundreds.

    Returns
    -------
    DataFrame
        The counts, in their order, with share, low, high (float, 95 %).

    Notes
    -----
    Wilson's score interval (E. B. Wilson 1927, J. American Statistical Association 22: 209-212) with as many people as
    were asked (everybody, if not said: the night as one draw of nights like it), from the lower end of the rounded
    share for `low`, from its upper end for `high`.

    Examples
    --------
    >>> counts = pd.DataFrame({"show_id": [2], "people": [2100], "earlier": [1], "returning": [300]})
    >>> returning_shares(counts)[["share", "low", "high"]].round(3)
       share    low   high
    0  0.143  0.103  0.187

    """
    counts = tables.checked(counts, "counts")
    over = counts.index[counts.returning > counts.people]
    if len(over):
        row = int(over[0])
        raise TableProblem.bad_value(
            "counts", "returning", row + 1, int(counts.returning[row]), f"at most the {counts.people[row]} people there"
        )
    people, back = counts.people.to_numpy(float), counts.returning.to_numpy(float)
    half_people = np.array([_half_unit(n, rounded_to) for n in counts.people])
    half_back = np.array([_half_unit(n, rounded_to) for n in counts.returning])
    asked = pd.to_numeric(counts["asked"]).fillna(counts.people) if "asked" in counts else counts.people
    least = _ratio(np.maximum(back - half_back, 0), people + half_people)
    most = _ratio(np.minimum(back + half_back, people), np.maximum(people - half_people, 1))
    size = np.maximum(asked.to_numpy(float), 1)
    low, high = _wilson(least, size)[0], _wilson(np.minimum(most, 1), size)[1]
    return counts.assign(share=_ratio(back, people), low=low, high=high)


def freshness_from_counts(
    plays: pd.DataFrame,
    shows: pd.DataFrame,
    counts: pd.DataFrame,
    *,
    rounded_to: int | None = None,
    hide_under: int = 0,
) -> pd.DataFrame:
    """How fresh each counted show was for its audience as a whole.

    Parameters
    ----------
    plays, shows
        Played sets and their shows.
    counts, rounded_to
        As for `returning_shares`. Counts against several earlier shows may overlap; nobody knows how.
    hide_under
        Smallest group of people whose count is used, and to which numbers of people are rounded; 0 for all.

    Returns
    -------
    DataFrame
        One row per show that has counts and a set, in order: show_id, people (int),
        counted (int, earlier shows with a count),
        fresh_share (float, of somebody who was at these earlier shows in the counted proportions),
        audience_fresh_share, low, high (float, mean over the whole audience).

    Notes
    -----
    Everything is fresh to those who were not counted, so the truth may be lower where earlier shows were not asked
    about. `audience_fresh_share` takes counts against several shows as independent; `low` and `high` hold both extremes
    (all of them the same people; all of them others) beside rounding and sampling.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": [1, 2], "date": ["2031-03-01", "2031-03-02"]})
    >>> plays = pd.DataFrame({"show_id": [1, 1, 2, 2], "position": [1, 2] * 2,
    ...                       "song": ["Ferry", "Tin Rook", "Ferry", "Salt Road"]})
    >>> counts = pd.DataFrame({"show_id": [2], "people": [200], "earlier": [1], "returning": [50]})
    >>> freshness_from_counts(plays, shows, counts).round(3)
       show_id  people  counted  fresh_share  audience_fresh_share    low   high
    0        2     200        1          0.5                 0.875  0.782  0.934

    """
    sets, counts = Sets.of(plays, shows), small.hidden_counts(tables.checked(counts, "counts"), hide_under)
    shares = _known(returning_shares(counts, rounded_to=rounded_to), shows, sets)
    rows = []
    for at, own in sets.shows[sets.shows.show_id.isin(shares.show_id)].iterrows():
        mine = shares[shares.show_id == own.show_id]
        heard = _heard(sets, mine)[:, sets.played[at]]
        each = 1 - sets.played[mine.earlier_at][:, sets.played[at]].mean(1)
        weight = mine.share.to_numpy()
        fresh = float(weight @ each / weight.sum()) if weight.sum() else np.nan
        point, low, high = 1 - heard.mean(1)
        rows.append((own.show_id, int(mine.people.max()), len(mine), fresh, point, high, low))
    columns = ["show_id", "people", "counted", "fresh_share", "audience_fresh_share", "low", "high"]
    table = pd.DataFrame(rows, columns=columns)
    if hide_under > 1:
        table = table.round(2).assign(people=small.rounded(table.people, hide_under))
    return table


def _known(shares: pd.DataFrame, shows: pd.DataFrame, sets: Sets) -> pd.DataFrame:
    """Counts whose earlier show has a set and really was earlier; others are a mistake in the table."""
    place = {show: at for at, show in enumerate(tables.in_order(shows).show_id)}
    unknown = [show for show in [*shares.show_id, *shares.earlier] if show not in place]
    if unknown:
        raise TableProblem.unknown_shows("counts", list(dict.fromkeys(unknown)))
    for row, (show, earlier) in enumerate(zip(shares.show_id, shares.earlier, strict=True), start=1):
        if place[earlier] >= place[show]:
            raise TableProblem.bad_value("counts", "earlier", row, earlier, f"a show before show {show}")
    at = shares.earlier.map(dict(zip(sets.shows.show_id, sets.shows["at"], strict=True)))
    return shares[at.notna()].assign(earlier_at=at.dropna().astype("int64"))


def _heard(sets: Sets, mine: pd.DataFrame) -> Floats:
    """Share of the audience that heard each song: point, least, most (rows); a column a song."""
    there = sets.played[mine.earlier_at].astype(float)
    share, low, high = (mine[name].to_numpy()[:, None] * there for name in ("share", "low", "high"))
    return np.array([1 - (1 - share).prod(0), low.max(0, initial=0.0), np.minimum(high.sum(0), 1.0)])


def _half_unit(number: int, rounded_to: int | None) -> float:
    """Half of the unit to which a number was rounded: 300 is 250 to 350, 2,140 is 2,135 to 2,145, 37 is 37."""
    if rounded_to is not None:
        return rounded_to / 2
    unit = 1
    while number and number % (unit * BASE) == 0:
        unit *= BASE
    return unit / 2 if unit > 1 else 0.0


def _ratio(part: Floats, whole: Floats) -> Floats:
    share: Floats = np.divide(part, whole, out=np.full(len(part), np.nan), where=whole > 0)
    return share


def _wilson(share: Floats, size: Floats) -> tuple[Floats, Floats]:
    """Score interval of a share."""
    centre = (share + Z**2 / (2 * size)) / (1 + Z**2 / size)
    half = Z / (1 + Z**2 / size) * np.sqrt(share * (1 - share) / size + Z**2 / (4 * size**2))
    return np.maximum(centre - half, 0), np.minimum(centre + half, 1)
