"""What every page is made of. It knows no page; each page is a folder beside it.

whose         whose diary is shown
contents      the pages of the workbook: one constant for bar, addresses and commands
links         from page to page, and from a title to its song
look          how pages look: type, tables, the frame of a file
widgets       fields, buttons, sentences, drafts; one column that fits a telephone
asked         a question on a page: fields, a button, the answer
fields        the fields of one row of a table
tables_shown  tables as people read them, in a page and in the terminal
charts        what all charts share; Altair comes from here
fitting       charts drawn for the width they have
typeset       paper: a template and its words, without a box for a sign that no font has
light_altair  makes Altair quick to load
finished      results that were worked out, kept beside the diary
whole_files   files that are whole or not there
long_work     a bar and a Stop button for work that takes a while
undoing       who may write, and Undo
show_written  the show that is being written down
plan_run      the plan as it was run
open_lines    lines of a set that could be two songs
questions     what a reading is not sure of
room_kinds    the kind of venue of each place
"""
