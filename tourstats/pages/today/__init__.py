"""Today: which hour of the job it is, and the page that it needs.

words  the hour, three lines, three ways on, and what is open
form   the page
"""
