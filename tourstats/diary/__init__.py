"""What is remembered: one SQLite file, what people paste into it, and its copies."""

from tourstats.diary.backup import CopyWarning, backup, check, copies, restore
from tourstats.diary.export import export, import_tables
from tourstats.diary.history import read_history, write_history
from tourstats.diary.place import exists, where
from tourstats.diary.reading_tables import read_table
from tourstats.diary.store import Diary, opened
from tourstats.diary.trouble import DiaryProblem
from tourstats.reading.findings import read_found
from tourstats.reading.sets import read_set, settled

__all__ = [
    "CopyWarning",
    "Diary",
    "DiaryProblem",
    "backup",
    "check",
    "copies",
    "exists",
    "export",
    "import_tables",
    "opened",
    "read_found",
    "read_history",
    "read_set",
    "read_table",
    "restore",
    "settled",
    "where",
    "write_history",
]
