"""The demo tour: an invented band, a process whose truth is known, and the files a person could have typed."""

from tourstats.demo.filling import fill, path
from tourstats.demo.parameters import Truth
from tourstats.demo.process import SEED, tour, truth
from tourstats.demo.typed import files, write_files

__all__ = ["SEED", "Truth", "files", "fill", "path", "tour", "truth", "write_files"]
