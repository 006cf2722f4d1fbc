"""One song: what was said of it, what it went through, and what of it is known by heart.

said          findings, what worked and notes as sentences, and those of tonight's songs
looking       a song by what was typed; songs, venues, shows and words by one field
crossings     transitions: how often, what went wrong at the seam, what was said
clean         clean performances in a row: safe without thinking
when_to_test  which shapes to be asked about on a day
everything    all of it about one song
"""

from tourstats.models.song.clean import NO_MINUTES, SURE, Streak, records, rule, safe, safe_tonight, streak
from tourstats.models.song.crossings import at_seams, crossings
from tourstats.models.song.everything import Song, history, song
from tourstats.models.song.looking import one, search
from tourstats.models.song.said import ALWAYS_SHOWN, HEARD, in_words, told, tonight
from tourstats.models.song.when_to_test import gap, measured, questions_of, to_test, tonight_wanted, wanted
