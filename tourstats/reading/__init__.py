"""Text, bytes and tables in, an account of every piece out: pure, no store, no widget.

account     one row a piece: what it was taken for, and why; how an account is said
words       whether something is a word of its own
titles      what somebody typed, matched to the titles of the repertoire
lines       one line taken apart: what may stand before a title, behind it, and between two
songs       the songs in one line
sets        tonight's set, pasted
findings    what was found on a recording, one mistake a line
"""
