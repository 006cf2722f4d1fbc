"""Text, bytes and tables in, an account of every piece out: pure, no store, no widget.

account      one row a piece: what it was taken for, and why; how an account is said
vocabulary   whether something is a word of its own
titles       what somebody typed, matched to the titles of the repertoire
lines        one line taken apart: what may stand before a title, behind it, and between two
marks        what stands around a title: remarks, segues, lengths, what strikes it out
songs        the songs in one line
medium       chats, mails, pages: what a set was sent in, taken off
columns      two columns side by side
headed       a day, a town or a venue above a set
found        what was found in a set so far
beside       lines beside a set that are no songs of it
whole_set    what single lines cannot settle
sets         tonight's set
based        a set that is an earlier one with changes
corrections  changes to a set, said in words
spoken       a set that was dictated
settling     what is open in a set, and the answers
photos       a photo of the set: boxes of text become lines
shapes       what sections a song has
findings     what was found on a recording, one mistake a line
sources      what somebody brought, read whole: the kind, the account, the questions, the proposal
files        opening what people send; letters, workbooks, documents do the work
letters      which letters the bytes of a text stand for
workbooks    XLSX, cell by cell
documents    PDF, DOCX, RTF, web pages, mails, calendars
records      JSON and SQL
listings     folders of recordings
asking       questions, what is proposed, the answers
days         days as people write them
years        the year of days that are written without one
cells        what kind of thing a cell holds
headers      what columns are called
known        what the tour knows already
layout       shows as they stand in a file, whatever its shape
long_tables  a row a song
grids        a column or a row a show; titles down, shows across
set_cells    a set a cell
blocks       texts, and tables without one shape: lines under a day, mails, a set a line, a sheet a show
counters     counters with letters before titles
towns        which words above a set name its town
ways         how lines are cut: whole, a field of each, many songs a line; what comes again decides
legends      what short names and signs mean, where a text says so
joins        tables that point at each other
stand_ins    what ditto marks, headings of months and codes stand for in a table
same_again   a show told by the one before
chats        messages
encores      which songs are of the encore, whatever it is called
jotted       lines around a set that tell times and counts
trimming     which first and last items of the shows are no songs
places       town, venue and number of each show
short_names  titles that are written short in some shows
spellings    remarks behind titles, slips
doubles      titles of the repertoire that may be one song
histories    one whole reading weighed
whole        all readings compared, and the guards
repertoire   the titles of a file matched to the repertoire
again        shows that the diary has already, and what differs
one_kind     tables of one kind: the repertoire, venues, rehearsals and so on
people       who was where, and counts at the door
"""
