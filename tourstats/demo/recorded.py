"""What the recordings of the reviewed shows were measured to be: where each song was, how fast, how loud."""

from __future__ import annotations

import math

from tourstats.demo.dice import Dice
from tourstats.demo.drumming import Playing
from tourstats.demo.parameters import Truth
from tourstats.demo.scenario import Show, Song

Rows = list[dict[str, object]]
FIRST_S, GAP_S = 40.0, 14.0
"""Seconds before the first song, and usually between two."""


def measured(shows: list[Show], songs: list[Song], playing: Playing, truth: Truth, dice: Dice) -> Rows:
    """A row a song of each show that was listened to: show_id, position, and the figures of its recording."""
    titled = {song.title: song for song in songs}
    own = {title: _Usual(song, truth, dice) for title, song in titled.items()}
    heard = {row["show_id"] for row in playing.reviews}
    played = [show for show in shows if show.played]
    span = (played[-1].date - played[0].date).days
    rows: Rows = []
    for show in [show for show in played if show.show_id in heard]:
        set_ = [own[play.song] for play in playing.plays if play.show_id == show.show_id]
        rows += _show(show, set_, (show.date - played[0].date).days / span, truth, dice)
    return rows


class _Usual:
    """How one song usually goes."""

    def __init__(self, song: Song, truth: Truth, dice: Dice) -> None:
        self.song = song
        self.off = dice.normal(0, truth.tempo_own_sd)
        self.creep = dice.normal(truth.tempo_creep, truth.tempo_creep_sd)
        self.unsteady = dice.normal(math.log(0.5), 0.3)
        self.loud = dice.normal(0, 2.5)


def _show(show: Show, played: list[_Usual], at: float, truth: Truth, dice: Dice) -> Rows:
    """One recording; a field is a hard place to hear from."""
    field = show.room == "festival"
    night = dice.normal(0, truth.tempo_night_sd) + truth.tempo_field * field
    rows: Rows = []
    moment = FIRST_S + dice.uniform(0, 60)
    for place, usual in enumerate(played):
        song = usual.song
        percent = usual.off + usual.creep * at + night + truth.tempo_position * place / max(len(played) - 1, 1)
        percent += dice.normal(0, truth.tempo_sd)
        if song.track:  # the click says how fast
            percent = dice.normal(0, 0.05)
        length = song.minutes * 60 * math.exp((dice.normal(0, 3) - percent) / 100)
        sure = dice.chance(0.6 if field else 0.85)
        fast = sure and dice.chance(0.95)
        drift, unsteady = dice.normal(0, 0.8), math.exp(usual.unsteady + dice.normal(0, 0.25))
        loud = usual.loud + dice.normal(0, 0.9)
        rows.append(
            {
                "show_id": show.show_id,
                "position": place + 1,
                "start_s": round(moment, 1),
                "end_s": round(moment + length, 1),
                "sure": sure,
                "tempo_bpm": round(song.tempo * math.exp(percent / 100), 2) if fast else None,
                "drift": round(drift, 2) if fast else None,
                "unsteadiness": round(unsteady, 2) if fast else None,
                "tempo_sure": fast,
                "loudness": round(loud, 2),
                "why": None if fast else "the pulse is not clear" if sure else "the start could also be elsewhere",
            }
        )
        moment += length + GAP_S * math.exp(dice.normal(0, 0.5))
    return rows
