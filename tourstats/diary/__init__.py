"""What is remembered: one SQLite file, what people paste into it, and its copies."""

from tourstats.diary.backup import CopyWarning, backup, check, copies, restore
from tourstats.diary.export import export, import_tables
from tourstats.diary.history import read_history
from tourstats.diary.intake import read_set
from tourstats.diary.place import exists, where
from tourstats.diary.store import Diary, opened
from tourstats.diary.trouble import DiaryProblem

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
    "read_history",
    "read_set",
    "restore",
    "where",
]
