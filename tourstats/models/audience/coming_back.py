"""How many will come again: each show is a chance to come, and after any of them somebody may be gone for good.

The model is the beta-geometric/beta-Bernoulli of Fader, Hardie & Shang (2010), Marketing Science 29: 1086-1108. Each
person comes to each show with a chance of their own until they drop out, with a chance of their own after each show;
both chances differ from person to person as beta distributions. Opportunities of a person are the shows after their
first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from tourstats import tables
from tourstats.models.audience.from_sets import AudienceProblem, Floats, Ints, Z
from tourstats.problems import TooFewProblem

LEAST_PEOPLE = 30
"""People, and repeat visits, below which four parameters would be read out of nothing."""
STARTS = ((1.0, 1.0, 1.0, 1.0), (0.5, 5.0, 0.5, 5.0), (0.5, 1.0, 1.0, 20.0))
"""Where the search for the likeliest parameters begins; the best end is kept."""
EDGE = 12.0
"""Largest absolute logarithm of a parameter: beyond it the people are alike for all practical purposes."""
STEP = 1e-3
"""Of numerical derivatives by the logarithms of the parameters."""


@dataclass(frozen=True)
class Returning:
    """What attendance says of who comes again.

    Attributes
    ----------
    parameters
        One row: alpha, beta (chance to come to a show), gamma, delta (chance to have come for the last time),
        log_likelihood, people, come_chance, drop_chance (means of the two distributions).
    ahead
        One row per number of coming shows: shows (int, coming shows), again (float, people expected at one of them at
        least), low, high (float, 95 %: by uncertain parameters and by chance in who comes), visits (float, expected
        visits of earlier attendees).
    fit
        One row per number of repeat visits: repeats (int), people (int, counted), expected (float, by the model). Does
        the model describe these people at all?

    """

    parameters: pd.DataFrame
    ahead: pd.DataFrame
    fit: pd.DataFrame


def returning(attendance: pd.DataFrame, shows: pd.DataFrame, ahead: int | None = None) -> Returning:
    """Fit how people come again, and say how many of them will.

    Parameters
    ----------
    attendance
        Who was where, a row a person and show.
    shows
        All shows that they could have come to, in any order.
    ahead
        How many coming shows to look at; by default those of `shows` after the last one with attendance, or 5.

    Returns
    -------
    Returning
        Parameters, people to come, and how well the model fits.

    Raises
    ------
    TooFewProblem
        If there are fewer than 30 people with a show after their first one, or fewer than 30 repeat visits.
    AudienceProblem
        If everybody came at least twice: without those who came once, nothing can be said of who comes again.

    Notes
    -----
    Every show is taken to be as near to everybody as any other. Where people come from one region, the numbers say what
    happens on average over the whole run of shows, not in the next town.

    Examples
    --------
    >>> shows = pd.DataFrame({"show_id": range(6), "date": pd.date_range("2031-03-01", periods=6)})
    >>> random = np.random.default_rng(1)
    >>> came = pd.DataFrame({"person": np.repeat(np.arange(300), 6), "show_id": np.tile(np.arange(6), 300)})
    >>> came = came[random.random(len(came)) < np.repeat(random.beta(1, 3, 300), 6)]
    >>> returning(came, shows, ahead=2).ahead[["shows", "again"]].round(0)
       shows  again
    0      1   61.0
    1      2   96.0

    """
    came, ordered = tables.checked(attendance, "attendance"), tables.in_order(shows)
    tables.of_known_shows(came, ordered, "attendance")
    history, coming = _histories(came, ordered)
    people = int(history.people[history.n > 0].sum())
    visits = int((history.x * history.people).sum())
    if min(people, visits) < LEAST_PEOPLE:
        what = "people with a later show" if people < LEAST_PEOPLE else "repeat visits"
        raise TooFewProblem.of(what, min(people, visits), LEAST_PEOPLE)
    known = history[history.n > 0]
    if not (history.x == 0).any():
        raise AudienceProblem(
            "Everybody on this list came at least twice. How many will come again can only be told from a list that "
            "has those who came once as well, such as all ticket scans."
        )
    best, best_value = fit_bgbb(*_columns(known))
    shows_ahead = ahead or coming or 5
    return Returning(
        parameters=_parameters(best, best_value, int(history.people.sum())),
        ahead=_ahead(best, _covariance(best, known), history, shows_ahead),
        fit=_fit(best, history),
    )


def fit_bgbb(x: Ints, t_x: Ints, n: Ints, people: Ints) -> tuple[Floats, float]:
    """Likeliest alpha, beta, gamma, delta, and the log likelihood.

    Parameters
    ----------
    x, t_x, n, people
        Repeat visits, opportunity of the last one (0 if none), opportunities, and people with this history.

    """
    from scipy.optimize import minimize  # noqa: PLC0415  # late: nothing on the show day fits this

    def loss(logs: Floats) -> float:
        return float(people @ log_likelihood(np.exp(logs), x, t_x, n)) / -float(people.sum())

    ends = [
        minimize(loss, np.log(start), method="L-BFGS-B", bounds=[(-EDGE, EDGE)] * 4, options={"ftol": 1e-14})
        for start in STARTS
    ]
    best = min(ends, key=lambda end: float(end.fun))
    best = minimize(
        loss, best.x, method="Nelder-Mead", bounds=[(-EDGE, EDGE)] * 4, options={"xatol": 1e-7, "fatol": 1e-13}
    )
    return np.exp(best.x), -float(best.fun) * float(people.sum())


def log_likelihood(parameters: Floats, x: Ints, t_x: Ints, n: Ints) -> Floats:
    """Log chance of each history: there to the end, or gone after any show since the last visit (eq. 3).

    The sum over when somebody was gone is looked up: it depends on x and on where it begins and ends, and the terms
    fall, so that sums from the far end keep their digits.
    """
    from scipy.special import gammaln  # noqa: PLC0415  # late

    alpha, beta, gamma, delta = parameters
    most = int(n.max(initial=0))
    shows = np.arange(most + 1)
    of_x, of_rest, of_all = gammaln(alpha + shows), gammaln(beta + shows), gammaln(alpha + beta + shows)
    of_delta, of_both = gammaln(delta + shows), gammaln(gamma + delta + shows)
    stays = gammaln(gamma) + of_delta - of_both
    goes = gammaln(gamma + 1) + of_delta - gammaln(gamma + 1 + delta + shows)
    visits = np.arange(int(x.max(initial=0)) + 1)[:, None]
    terms = np.where(shows >= visits, of_rest[np.maximum(shows - visits, 0)] - of_all + goes, -np.inf)
    top = terms.max(axis=1)
    tails = np.cumsum(np.exp(terms - top[:, None])[:, ::-1], axis=1)[:, ::-1]
    with np.errstate(divide="ignore"):  # whoever came to the last show cannot be gone before it
        gone = np.log(tails[x, t_x] - tails[x, n]) + top[x]
    total = np.logaddexp(of_rest[n - x] - of_all[n] + stays[n], gone) + of_x[x]
    whole = gammaln(alpha) + gammaln(beta) - gammaln(alpha + beta)
    return np.asarray(total - whole - (gammaln(gamma) + gammaln(delta) - gammaln(gamma + delta)))


def expected_visits(parameters: Floats, x: Ints, t_x: Ints, n: Ints, ahead: int) -> Floats:
    """Visits to expect at the coming shows, given the history (eq. 13 of the paper, summed show by show)."""
    from scipy.special import betaln  # noqa: PLC0415  # late

    alpha, beta, gamma, delta = parameters
    comes = betaln(alpha + x + 1, beta + n - x) - betaln(alpha, beta) - log_likelihood(parameters, x, t_x, n)
    there = [np.exp(comes + betaln(gamma, delta + n + j) - betaln(gamma, delta)) for j in range(1, ahead + 1)]
    return np.asarray(np.sum(there, axis=0))


def come_again(parameters: Floats, x: Ints, t_x: Ints, n: Ints, ahead: int) -> Floats:
    """Chance to come to one of the coming shows at least: one minus that of the same history with as many misses."""
    missed = log_likelihood(parameters, x, t_x, n + ahead) - log_likelihood(parameters, x, t_x, n)
    return np.asarray(-np.expm1(missed))


def repeat_chances(parameters: Floats, most: int) -> Floats:
    """Chance of x repeat visits (column) at n opportunities (row), n from 0 to `most` (eq. 7 of the paper)."""
    from scipy.special import betaln, gammaln  # noqa: PLC0415  # late

    alpha, beta, gamma, delta = parameters
    i, x = np.meshgrid(np.arange(most + 1), np.arange(most + 1), indexing="ij")
    i, x = i.astype(float), np.minimum(x, i).astype(float)
    possible = np.tri(most + 1)
    ways = gammaln(i + 1) - gammaln(x + 1) - gammaln(i - x + 1) + betaln(alpha + x, beta + i - x) - betaln(alpha, beta)
    stays = possible * np.exp(ways + betaln(gamma, delta + i) - betaln(gamma, delta))
    goes = possible * np.exp(ways + betaln(gamma + 1, delta + i) - betaln(gamma, delta))
    return np.asarray(stays + np.cumsum(goes, axis=0) - goes)


def _histories(came: pd.DataFrame, ordered: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """Count equal histories (x, t_x, n), up to the last show that anybody attended; and the shows that come after."""
    place = pd.Series(range(len(ordered)), index=ordered.show_id)
    visits = pd.DataFrame({"person": came.person, "at": came.show_id.map(place)}).drop_duplicates()
    last = int(visits["at"].max()) if len(visits) else -1
    each = visits.groupby("person")["at"].agg(["min", "max", "size"])
    history = pd.DataFrame({"x": each["size"] - 1, "t_x": each["max"] - each["min"], "n": last - each["min"]})
    counted = history.groupby(["x", "t_x", "n"]).size().rename("people").reset_index()
    return counted.astype("int64"), len(ordered) - 1 - last


def _columns(history: pd.DataFrame) -> Sequence[Ints]:
    return [history[name].to_numpy(np.int64) for name in ("x", "t_x", "n", "people")]


def _parameters(best: Floats, value: float, people: int) -> pd.DataFrame:
    told = dict(zip(("alpha", "beta", "gamma", "delta"), best, strict=True))
    comes, drops = best[0] / (best[0] + best[1]), best[2] / (best[2] + best[3])
    told |= {"log_likelihood": value, "people": people, "come_chance": comes, "drop_chance": drops}
    return pd.DataFrame([told])


def _covariance(best: Floats, known: pd.DataFrame) -> Floats:
    """Of the logarithms of the parameters, from the curvature of the likelihood at its top."""
    x, t_x, n, people = _columns(known)
    logs, unit = np.log(best), np.eye(len(best)) * STEP

    def value(move: Floats) -> float:
        return float(people @ log_likelihood(np.exp(logs + move), x, t_x, n))

    curve = np.array([[value(a + b) - value(a - b) - value(b - a) + value(-a - b) for a in unit] for b in unit])
    values, vectors = np.linalg.eigh(-curve / (4 * STEP**2))
    # A direction in which the likelihood is flat is taken as known to a factor of e, no better and no worse.
    return np.asarray((vectors / np.maximum(values, 1)) @ vectors.T)


def _ahead(best: Floats, spread: Floats, history: pd.DataFrame, shows: int) -> pd.DataFrame:
    """People and visits to come; the interval adds the uncertain parameters (delta method) to chance in who comes."""
    x, t_x, n, people = _columns(history)
    unit = np.eye(len(best)) * STEP
    rows = []
    for ahead in range(1, shows + 1):
        chance = come_again(best, x, t_x, n, ahead)
        again = float(people @ chance)
        up, down = (
            np.array([people @ come_again(best * np.exp(sign * move), x, t_x, n, ahead) for move in unit])
            for sign in (1, -1)
        )
        slope = (up - down) / (2 * STEP)
        half = Z * np.sqrt(slope @ spread @ slope + people @ (chance * (1 - chance)))
        visits = float(people @ expected_visits(best, x, t_x, n, ahead))
        rows.append((ahead, again, max(again - half, 0.0), min(again + half, float(people.sum())), visits))
    return pd.DataFrame(rows, columns=["shows", "again", "low", "high", "visits"])


def _fit(best: Floats, history: pd.DataFrame) -> pd.DataFrame:
    """People by repeat visits, counted and as the model has them."""
    by_n = history.groupby("n").people.sum()
    chance = repeat_chances(best, int(history.n.max()))
    repeats = np.arange(len(chance))
    counted = history.groupby("x").people.sum().reindex(repeats, fill_value=0)
    return pd.DataFrame(
        {
            "repeats": repeats,
            "people": counted.to_numpy(np.int64),
            "expected": by_n.reindex(repeats, fill_value=0).to_numpy(float) @ chance,
        }
    )
