"""Text, bytes and tables in, an account of every piece out: pure, no store, no widget.

account     one row a piece: what it was taken for, and why; how an account is said
words       whether something is a word of its own
titles      what somebody typed, matched to the titles of the repertoire
lines       one line taken apart: what may stand before a title, behind it, and between two
marks       what stands around a title: remarks, segues, lengths, what strikes it out
songs       the songs in one line
medium      chats, mails, pages: what a set was sent in, taken off
columns     two columns side by side
headed      a day, a town or a venue above a set
whole_set   what single lines cannot settle
sets        tonight's set
settling    what is open in a set, and the answers
photos      a photo of the set: boxes of text become lines
findings    what was found on a recording, one mistake a line
"""
