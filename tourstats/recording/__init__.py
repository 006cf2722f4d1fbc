"""Sound in, tables out: where the songs of a set are in a show's recording, how fast each was, clips to hear.

sound           files of any kind, block by block
sound_features  onsets, colour and harmony, while the sound streams by
tempo           how fast a song was, and how sure that is
evidence        what speaks for which song at each second
splitting       the set laid along the recording, and how sure each place is
starts          where a song begins, and where it may begin as well
measuring       all of it: a recording and a set in, a table out
kept            what is kept of a performance, about three kilobytes
bars            where bars and sections begin in a performance
aligning        the same place in two performances of a song
clips           a few minutes as MP3, to be heard
"""

from tourstats.recording.aligning import same_place
from tourstats.recording.bars import Bars, bars_of, place_of
from tourstats.recording.clips import clip
from tourstats.recording.kept import Kept
from tourstats.recording.measuring import Heard, listen, measure, measured_between
from tourstats.recording.sound import SUFFIXES, RecordingProblem

__all__ = [
    "SUFFIXES",
    "Bars",
    "Heard",
    "Kept",
    "RecordingProblem",
    "bars_of",
    "clip",
    "listen",
    "measure",
    "measured_between",
    "place_of",
    "same_place",
]
