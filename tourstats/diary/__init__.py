"""What is remembered: one SQLite file, what goes in and out of it, and its copies.

store         the file itself, which knows no song
songs         the repertoire and the shapes of songs
shows         shows, legs, venues
sets          sets as planned and as played, and what a recording says of them
playing       rehearsals, reviews, mistakes, what worked
notes         remarks to see again
people        who was where, as keyed hashes
set_out       what is set out before doors
book          the diary as people use it, all of these under one name
intake        the one door from what was read into the store
writing       what was read, written: all or nothing
tonights_set  a set that was read, kept
export        every table out as a file, and back
taken         whole tables taken in
"""

from tourstats.diary.book import Diary, begun, opened
from tourstats.diary.export import export, import_tables
from tourstats.diary.store.copies import CopyWarning, backup, check, copies, restore
from tourstats.diary.store.place import exists, where
from tourstats.diary.store.trouble import DiaryProblem
from tourstats.diary.writing import write_history
from tourstats.reading.findings import read_found
from tourstats.reading.sets import read_set
from tourstats.reading.settling import settled
from tourstats.reading.sources import read_history
