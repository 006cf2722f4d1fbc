"""Playing trends: is the playing getting more consistent?

words        sentences and tables
comes_again  what comes again: spots, safe songs, runs, how good the expected mistakes were
form         the rest of a show was clean; what a mistake weighs that others heard
chart        its pictures
"""
