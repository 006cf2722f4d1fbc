"""The demo tour: an invented band, a process whose truth is known, and the files a person could have typed.

scenario    the repertoire with what is hidden in it, and where the tour goes
parameters  what is true of the tour
band        names, venues, words
leader      the sets
drumming    rehearsals, and what goes wrong
around      notes, people who travel, counts at the door
studied     shapes, and how they were learned
recorded    what recordings were measured to be
dice        chance, the same on every machine
process     all of it, from a seed
filling     into a diary
typed       as files that a person could have typed
"""

from tourstats.demo.filling import fill, path
from tourstats.demo.parameters import Truth
from tourstats.demo.process import SEED, tour, truth
from tourstats.demo.typed import files, write_files

__all__ = ["SEED", "Truth", "files", "fill", "path", "tour", "truth", "write_files"]
