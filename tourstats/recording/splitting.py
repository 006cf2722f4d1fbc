"""Where the songs are: the best way to lay a set, in order, along a recording (semi-Markov dynamic programming)."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import timedelta

import numpy as np

from tourstats.recording.evidence import Wanted
from tourstats.recording.starts import Sound, Start, begun_again, clues_of, owned, started

LONGEST, SHORTEST = 2.0, 0.45
"""How much longer or shorter than usual a song can be."""
USUAL_S, USUAL_SPREAD = 240.0, 0.4
"""Length of a song of which nothing is known, and the spread of its logarithm."""


@dataclass(frozen=True)
class Weights:
    """What each kind of evidence counts; in units of one second of clear music."""

    bias: float = 0.0
    music: float = 0.5
    tempo: float = 0.5
    chroma: float = 6.0
    spread: float = 0.15
    length: float = 16.0
    absent: float = 60.0
    cut: float = 10.0
    other: float = 25.0
    other_s: float = 0.1


USUAL = Weights()
VARIANTS = (
    USUAL,
    replace(USUAL, bias=1.5),
    replace(USUAL, bias=-1.5),
    replace(USUAL, music=1.0),
    *(
        replace(USUAL, tempo=tempo, chroma=chroma, spread=spread)
        for tempo, chroma, spread in ((0.2, 3.0, 0.1), (1.0, 12.0, 0.25))
    ),
    replace(USUAL, tempo=0.2, spread=0.25),
)
"""Seven ways of weighing: where all but one agree, the place can be sure."""


@dataclass(frozen=True)
class Evidence:
    """For each second: log odds of music, and for each song and second how well tempo and harmony fit."""

    music: np.ndarray
    tempo: np.ndarray
    chroma: np.ndarray
    wanted: tuple[Wanted, ...]
    fixed: Mapping[int, tuple[int, int]] = field(default_factory=dict)
    """Starts and ends in whole seconds that a person has set, by place in the set from 0."""
    left: np.ndarray | None = None
    """For each song and second: how far from the end of an earlier performance the harmony is."""
    heard: np.ndarray | None = None
    """Chroma a second of the recording."""
    sound: Sound | None = None
    """What is heard twice a second."""


def laid(evidence: Evidence, weights: Weights = USUAL) -> np.ndarray:
    """Start and end of each song in whole seconds, (songs, 2); -1 for a song that is not there.

    Examples
    --------
    >>> music = np.where((np.arange(400) > 50) & (np.arange(400) < 250), 3.0, -3.0)
    >>> nothing = np.zeros((1, 400))
    >>> laid(Evidence(music, nothing, nothing, (Wanted("Ferry", seconds=190),))).tolist()
    [[51, 250]]

    """
    return _back(_onwards(evidence, weights)[0], len(evidence.music))


def _onwards(
    evidence: Evidence, weights: Weights = USUAL
) -> tuple[list[tuple[np.ndarray, np.ndarray, np.ndarray]], float]:
    """What `_back` needs of each song, and the score of the best way to lay the set."""
    odds = np.clip(evidence.music + weights.bias, -3, 3) * weights.music
    quiet = _sums(-odds)
    other = _sums(odds - weights.other_s)
    free = _gap(_alone(quiet), quiet, other, weights)
    steps = []
    for place, song in enumerate(evidence.wanted):
        own = odds + weights.tempo * evidence.tempo[place] + weights.chroma * evidence.chroma[place]
        ended, began = _song(free[0], _sums(own), song, weights, evidence.fixed.get(place))
        missing = free[0] - weights.absent
        if place in evidence.fixed:
            missing = np.full_like(missing, -np.inf)
        entry = np.maximum(ended, missing)
        after = _gap(entry, quiet, other, weights)
        steps.append((ended >= missing, began, after[1]))
        free = after
    return steps, float(free[0][-1])


def _sums(values: np.ndarray) -> np.ndarray:
    return np.concatenate([[0.0], np.cumsum(values, dtype=float)])


def _alone(sums: np.ndarray) -> np.ndarray:
    """Only the very beginning is a way in."""
    entry = np.full(len(sums), -np.inf)
    entry[0] = 0
    return entry


def _gap(entry: np.ndarray, quiet: np.ndarray, other: np.ndarray, weights: Weights) -> tuple[np.ndarray, np.ndarray]:
    """Best score of being between songs at each second, and where that gap was entered; other music may play twice."""
    score, came = _onward(entry, np.arange(len(entry)), quiet)
    for _ in range(2):
        played, since = _onward(score - weights.other, came, other)
        again, before = _onward(played, since, quiet)
        better = again > score
        score, came = np.where(better, again, score), np.where(better, before, came)
    return score, came


def _onward(entry: np.ndarray, came: np.ndarray, sums: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Stay in one state from any earlier entry on."""
    net = entry - sums
    best = np.maximum.accumulate(net)
    new = np.r_[True, best[1:] > best[:-1]]
    at = np.maximum.accumulate(np.where(new, np.arange(len(entry)), 0))
    return best + sums, came[at]


def _song(
    free: np.ndarray, sums: np.ndarray, song: Wanted, weights: Weights, fixed: tuple[int, int] | None
) -> tuple[np.ndarray, np.ndarray]:
    """Best score of the song ending at each second, and where it then began."""
    size = len(free)
    ended, began = np.full(size, -np.inf), np.zeros(size, int)
    if fixed is not None:
        start, end = fixed
        ended[end], began[end] = free[start] + sums[end] - sums[start], start
        return ended, began
    known = song.seconds > 0
    usual = song.seconds if known else USUAL_S
    spread = weights.spread if known else USUAL_SPREAD
    net = free - sums
    for length in range(int(SHORTEST * usual), min(int(LONGEST * usual), size - 1) + 1):
        score = net[: size - length] + _of_length(length, usual, spread, weights.length)
        better = score > ended[length:]
        ended[length:][better] = score[better]
        began[length:][better] = np.flatnonzero(better)
    ended = ended + sums
    # The recording begins in the song, or ends in it: any shorter length will do then.
    short = np.arange(1, min(int(usual), size - 1))
    score = free[0] + sums[short] - weights.cut
    better = score > ended[short]
    ended[short[better]], began[short[better]] = score[better], 0
    score = net[size - 1 - short] + sums[-1] - weights.cut
    if len(short) and score.max() > ended[-1]:
        ended[-1], began[-1] = score.max(), size - 1 - short[score.argmax()]
    return ended, began


def _of_length(length: float, usual: float, spread: float, weight: float) -> float:
    """What a length costs: quadratic near the usual one, linear far from it."""
    off = abs(np.log(length / usual)) / spread
    return float(-weight * (0.5 * off**2 if off < 1 else off - 0.5))


def _back(steps: list[tuple[np.ndarray, np.ndarray, np.ndarray]], size: int) -> np.ndarray:
    """Walk back from the end."""
    places = np.full((len(steps), 2), -1)
    at = size
    for place in range(len(steps) - 1, -1, -1):
        played, began, came = steps[place]
        end = int(came[at])
        at = end
        if played[end]:
            places[place] = began[end], end
            at = int(began[end])
    return places


# ------------------------------------------------------------------------------------------------ how sure


@dataclass(frozen=True)
class Place:
    """Where a song is, in seconds; NaN if it was not found. `why` says what speaks against it, empty if sure."""

    start: float
    end: float
    sure: bool
    why: str


NEAR_S = 3
"""How near, in seconds, an earlier performance and the variants have to agree on an end."""
TOLD_S = 60
"""Seconds at the end of a song from which an earlier performance tells where it ends."""
ALIKE, UNLIKE = 0.92, 0.8
"""How much like the song a second is, as a share of how much alike its own seconds are: part of it, is not."""
AROUND_S = 60
"""Seconds around a song in which its harmony is looked for."""
MORE_S, TRIM_S = 3, (4, 15)
"""Seconds over which an end moves on where they are the song's; and moves inwards where they are not."""
SHARE, SHARE_AGAIN = 0.85, 0.75
"""Share of the likelihood of all starts that lies near one that is sure; where an earlier performance is known."""
INSTEAD = 12.0
"""By how much the evidence for a song beats that for its neighbour that was not found, for its place to be sure."""
AGREE_S, FAR_S = 8, 40
"""Seconds within which the variants have to agree with the usual one on an end; on a start, which is weighed again."""
OUT_OF_LINE = 1
"""How many of the seven need not: each weighs one kind of evidence far more or less than it deserves."""
FITS = (0.75, 1.33)
"""Shares of the usual length within which a song's length fits."""
FEWEST, MOST, ORDERS = 7, 20, 25
"""Songs with a tempo from which on a set can be told from another, songs that are enough to tell, and in how many other
orders they are laid.
"""
APART, OWN, AHEAD = 0.06, 4.0, 4.4
"""How far apart tempi are. Standard deviations by which a set's own order is ahead of others, and `OWN` times the share
of its places where no other song's tempo fits better, come to this at least: `benchmarks/recording.md` says on what.
"""
HOLE_S = 6
"""Seconds without music that a song does not have."""
LEAST_S = 45
"""A start is weighed of songs from this length on."""


def places(evidence: Evidence) -> list[Place]:
    """Lay the set along the recording in seven ways, and say how far each place can be relied on."""
    ways = np.stack([laid(evidence, weights) for weights in VARIANTS])
    size = len(evidence.music)
    ended = np.maximum.accumulate(np.r_[0, ways[0, :-1, 1]])  # of the song before
    begins = np.r_[np.where(ways[0, 1:, 0] < 0, size, ways[0, 1:, 0]), size]  # of the song after
    free = np.stack([ended, np.minimum.accumulate(begins[::-1])[::-1]], axis=1)
    placed = [_place(evidence, at, ways[:, at], free[at]) for at in range(len(evidence.wanted))]
    for at, (one, after) in enumerate(itertools.pairwise(placed)):
        if (
            one.end > after.start > one.start and at not in evidence.fixed
        ):  # it began before the last was thought to end
            placed[at] = replace(one, end=after.start)
    usual = np.array([song.seconds if song.seconds > 0 else USUAL_S for song in evidence.wanted])
    # What is cut to a scrap at the beginning or end was not found either.
    for at, other in _beside(ways[0, :, 1] - ways[0, :, 0] < SHORTEST * usual):
        start, end = ways[0, at]
        if placed[at].sure and at not in evidence.fixed and _lead(evidence, at, other, start, end) < INSTEAD:
            placed[at] = replace(placed[at], sure=False, why=f"{evidence.wanted[other].song} would fit there as well")
    if _another_set(evidence, ways[0]):
        why = "the set fits the recording hardly better than in any other order: it may be another show"
        placed = [one if at in evidence.fixed else replace(one, sure=False, why=why) for at, one in enumerate(placed)]
    return placed


def _another_set(evidence: Evidence, places: np.ndarray) -> bool:
    """Whether the set lies hardly better along the recording than the same songs in other orders, each laid anew.

    Of a set that was not played its own order is one of many, so how far it is ahead is a permutation test.
    """
    known = [song for song in evidence.wanted if song.bpm > 0 or song.chroma]
    if len(known) < FEWEST:
        return False
    ahead = _ahead(replace(evidence, chroma=np.zeros_like(evidence.chroma)), places)
    # Harmony that is known of few songs outweighs all else, so a set that is ahead without it is taken as well.
    ahead = max(ahead, _ahead(evidence, places)) if evidence.chroma.any() else ahead
    return ahead + OWN * _own_best(evidence, places) < AHEAD


def _ahead(evidence: Evidence, places: np.ndarray) -> float:
    """By how many standard deviations of other orders a set lies better in its own; infinite where all are alike."""
    songs = min(len(evidence.wanted), MOST)
    size = len(evidence.music) if songs == len(evidence.wanted) else max(int(places[:songs, 1].max()), LEAST_S)
    dice = np.random.default_rng(0)
    own, *others = (
        _onwards(_ordered(evidence, order, size))[1]
        for order in (np.arange(songs), *(dice.permutation(songs) for _ in range(ORDERS)))
    )
    spread = float(np.std(others))
    return (own - float(np.mean(others))) / spread if spread > 0 else np.inf


def _own_best(evidence: Evidence, places: np.ndarray) -> float:
    """In what share of the places no tempo of another song, of those more than `APART` away, fits better."""
    bpm = np.array([song.bpm for song in evidence.wanted])
    best = []
    for at in np.flatnonzero((bpm > 0) & (places[:, 1] - places[:, 0] >= LEAST_S)):
        others = np.flatnonzero(np.abs(np.log(bpm / bpm[at])) > APART)
        if len(others) > 1:
            fits = evidence.tempo[:, places[at, 0] + 8 : places[at, 1] - 8].mean(axis=1)
            best.append(fits[at] >= fits[others].max())
    return float(np.mean(best)) if best else 0.5


def _ordered(evidence: Evidence, order: np.ndarray, size: int) -> Evidence:
    """Some songs of the set in another order, along the recording up to a second."""
    wanted = tuple(evidence.wanted[at] for at in order)
    return Evidence(evidence.music[:size], evidence.tempo[order, :size], evidence.chroma[order, :size], wanted)


def _beside(missing: np.ndarray) -> list[tuple[int, int]]:
    """Each song that was found, with each next to it in the set that was not."""
    return [
        (at, other)
        for at in np.flatnonzero(~missing).tolist()
        for other in np.flatnonzero(missing).tolist()
        if missing[min(at, other) + 1 : max(at, other)].all()
    ]


def _lead(evidence: Evidence, at: int, other: int, start: int, end: int) -> float:
    """By how much a song explains its place better than another song of the set, by what is known of both."""
    tempi = all(evidence.wanted[place].bpm > 0 for place in (at, other))
    scores = []
    for place in (at, other):
        song = evidence.wanted[place]
        known = song.seconds > 0
        usual, spread = (song.seconds, USUAL.spread) if known else (USUAL_S, USUAL_SPREAD)
        fits = USUAL.chroma * evidence.chroma[place, start:end].sum()
        fits += USUAL.tempo * evidence.tempo[place, start:end].sum() * tempi
        scores.append(float(fits) + _of_length(end - start, usual, spread, USUAL.length))
    return scores[0] - scores[1]


def _place(evidence: Evidence, at: int, ways: np.ndarray, free: np.ndarray) -> Place:
    start, end = (int(second) for second in ways[0])
    if at in evidence.fixed:
        return Place(float(start), float(end), True, "")  # as named in the class
    if start < 0:
        return Place(np.nan, np.nan, False, "not found")  # as above
    length, usual = end - start, evidence.wanted[at].seconds
    over = _told(evidence, at, (max(end - TOLD_S, start), end))
    like = _likeness(evidence.heard, start, end, len(evidence.music))
    sound = evidence.sound if start > 0 and length >= LEAST_S else None
    begun = Start(float(start), 1.0, start)
    if sound is not None:
        begun = _begun(evidence, sound, at, (start, end), int(free[0]), like)
    share = SHARE_AGAIN if evidence.chroma[at].any() else SHARE
    doubts = {
        "the start could also be elsewhere": _apart(ways[:, 0], FAR_S if sound else AGREE_S) > OUT_OF_LINE,
        f"it may also begin at {timedelta(seconds=int(begun.other))}": begun.share < share,
        "the end could also be elsewhere": _apart(ways[:, 1], AGREE_S) > OUT_OF_LINE and not _near(over, end),
        "it would be much shorter or longer than usual": usual > 0 and not FITS[0] <= length / usual <= FITS[1],
        "it has a silence in it": _longest((evidence.music < -1)[start:end] & (like < UNLIKE)[start:end]) >= HOLE_S,
        "its harmony fits another song better": _foreign(evidence.chroma[:, start:end], at),
        "the recording begins or ends in it": start == 0 or end == len(evidence.music),
    }
    why = "; ".join(words for words, so in doubts.items() if so)
    return Place(begun.second, float(end + _moved(evidence.music, like, start, end, int(free[1]))), not why, why)


def _begun(evidence: Evidence, sound: Sound, at: int, place: tuple[int, int], free: int, like: np.ndarray) -> Start:
    """The likeliest start of a song that was laid somewhere."""
    own = owned(like, evidence.music, evidence.tempo[at], place)
    found = started(*clues_of(sound, own, like, place, min(free, place[0])))
    again = begun_again(sound, found.second, place)
    return found if again is None else replace(found, share=min(found.share, 0.5), other=again)


def _moved(music: np.ndarray, like: np.ndarray, start: int, end: int, free: int) -> int:
    """How far an end moves on, over seconds that are the song's, or inwards, over some that are not."""
    more = _run(like[end:free] >= ALIKE)
    more *= more >= MORE_S
    less = _run(((like < ALIKE) & (music < 0))[start : end + more][::-1])
    return more - less * (TRIM_S[0] <= less <= TRIM_S[1])


def _run(true: np.ndarray) -> int:
    """How many are True before the first that is not."""
    return len(true) if true.all() else int(true.argmin())


def _apart(found: np.ndarray, seconds: float) -> int:
    """How many variants are elsewhere than the first."""
    return int((np.abs(found - found[0]) > seconds).sum())


def _told(evidence: Evidence, at: int, within: tuple[int, int]) -> int | None:
    """The end that the harmony of an earlier performance tells, where it is plain."""
    if evidence.left is None:
        return None
    seconds = np.arange(*within)
    told = (seconds + evidence.left[at, seconds])[evidence.chroma[at, seconds] > 0]
    if len(told) < TOLD_S // 3 or np.median(np.abs(told - np.median(told))) > 2:  # noqa: PLR2004  # seconds
        return None
    return round(float(np.median(told)))


def _near(told: int | None, found: int) -> bool:
    return told is not None and abs(told - found) <= NEAR_S


def _likeness(chroma: np.ndarray | None, start: int, end: int, size: int) -> np.ndarray:
    """How much the harmony of each second is that of the song, as a share of its own, near it."""
    if chroma is None or end - start < 30:  # noqa: PLR2004  # seconds; less says nothing
        return np.full(size, UNLIKE)
    first, last = max(start - AROUND_S - 8, 0), min(end + AROUND_S, size)
    own = chroma[start + 5 : end - 5]
    best = np.sort(chroma[first:last] @ own.T, axis=1)[:, -5:].mean(axis=1)
    smooth = np.convolve(best, np.ones(3) / 3, "same")
    like = np.zeros(size)
    like[first:last] = smooth / np.median(smooth[start + 5 - first : end - 5 - first])
    return like


def _longest(true: np.ndarray) -> int:
    """Length of the longest run of True."""
    edges = np.flatnonzero(np.diff(np.r_[False, true, False].astype(int)))
    return int((edges[1::2] - edges[::2]).max(initial=0))


def _foreign(chroma: np.ndarray, at: int) -> bool:
    """Whether, where harmony is known, another song's fits better in four seconds of ten."""
    if not chroma[at].any():
        return False
    return bool((chroma.argmax(axis=0) == at).mean() < 0.6)  # noqa: PLR2004  # as measured on made-up shows
