"""Lists that one hands out: for the band, the technician, the musical director, and for setting out before doors.

words    each list as lines: one truth for page, paper, message and terminal
printed  a list on paper
form     the lists on the show day, ticked off
"""
