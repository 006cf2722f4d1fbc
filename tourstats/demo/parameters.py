"""What is true of the demo tour, so that a model can be held against it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType


def _fixed(**values: float) -> Mapping[str, float]:
    return field(default_factory=lambda: MappingProxyType(values))


@dataclass(frozen=True)
class Truth:
    """The parameters of the process; logs are natural, rates are mistakes per play as they happen.

    **The leader.** A set has 22 to 24 songs. Each of the four fixtures (two openers, two closers) is in with
    chance `fixture_chance`. Beyond them, `swaps_least` songs come in, and a Poisson number more: of mean `swaps_quiet`
    on ordinary nights, `swaps_busy` on a share `busy_share`; and `leg_start_swaps` more on a leg's first night,
    `same_city_swaps` more on another night in the same town; at least `swaps_least` go out too. Which come in is drawn
    one after the other with log odds

        own return chance + queue * log(shows out) + newness (newly released) + heard_here_in (if played here last time)

    and which go out with log odds

        - own staying power + tired * log(nights in a row) + new_stays (newly released) + heard_here_out (as above).

    Own return chances have standard deviation `return_sd`, and hard songs come back less: `return_by_difficulty` is the
    correlation. Now and then (`change_chance`) one song of the night is not as planned.

    **The playing.** Mistakes in a performance are Poisson with log rate

        difficulty of the song ~ Normal(difficulty_mean, difficulty_sd)
        + layoff * log(1 + shows missed since last played), or + first_time if never played before
        + room[kind of venue]                       against a theatre
        + position * (place in the set, 0 first to 1 last)
        + date * (show, 0 first of the tour to 1 last)
        + transition                               if the song before it never led into it until now
        + second_show                              on the second show of a day
        + the largest in size of run[way]          over the runs of the song on the day or in the seven days before
        + the night's own Normal(0, night_sd)

    and a review finds each of them with a chance that rises in a straight line from `found_first` to `found_last` over
    the days from the first show to the last: the reviewer gets stricter. A second listening to a few old recordings, at
    the end of the tour, finds each with chance `found_last`.

    **Tempo.** A performance is, in per cent of the tempo that is written down, Normal(0, tempo_own_sd) for the song,
    + its creep, Normal(tempo_creep, tempo_creep_sd), from the first show of the tour to the last, + tempo_position from
    the first song of the night to the last, + tempo_field at a festival, + Normal(0, tempo_night_sd) for the night
    + Normal(0, tempo_sd). A song with a track is at the click's.

    **Temptations.** Songs that are out long are also the hard ones: without each song's own level, the layoff looks
    worse than it is. Songs are run because they are hard or out long, so a raw comparison shows as many mistakes
    after a run at the kit as without any, or more, though such a run takes away four in ten. The ear gets stricter,
    so the mistakes written down fall less than the playing gets better. Fields are reviewed less often than theatres,
    second shows of a day hardly ever.
    """

    fixture_chance: float = 0.94
    swaps_least: int = 3
    swaps_quiet: float = 2.0
    swaps_busy: float = 5.5
    busy_share: float = 0.25
    leg_start_swaps: int = 5
    same_city_swaps: int = 4
    return_sd: float = 0.8
    return_by_difficulty: float = -0.45
    queue: float = 0.55
    newness: float = 1.6
    heard_here_in: float = -1.4
    staying_sd: float = 0.7
    tired: float = 0.35
    new_stays: float = -0.8
    heard_here_out: float = 0.9
    change_chance: float = 0.3

    difficulty_mean: float = -1.45
    difficulty_sd: float = 0.6
    layoff: float = 0.32
    first_time: float = 0.75
    room: Mapping[str, float] = _fixed(theatre=0.0, club=0.1, arena=0.25, festival=0.45, studio=-0.2, other=0.15)
    position: float = 0.3
    date: float = -0.6
    transition: float = 0.25
    second_show: float = 0.2
    run: Mapping[str, float] = _fixed(listen=-0.1, pad=-0.2, band=-0.35, kit=-0.5)
    night_sd: float = 0.2
    found_first: float = 0.7
    found_last: float = 0.9

    tempo_own_sd: float = 1.2
    tempo_creep: float = 0.9
    tempo_creep_sd: float = 1.0
    tempo_position: float = 0.8
    tempo_field: float = 1.0
    tempo_night_sd: float = 0.25
    tempo_sd: float = 0.7

    review_chance: Mapping[str, float] = _fixed(theatre=0.8, club=0.7, arena=0.7, festival=0.5, studio=0.9, other=0.7)
    second_show_review_chance: float = 0.3
    all_songs_chance: float = 0.72
