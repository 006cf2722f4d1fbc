"""A workbook with which a touring musician keeps ready for a set that changes every show.

Data goes one way through the house; each room has one limit on what it may import:

tables      every table: columns, types, units, allowed values
tour        all tables of one tour, and the parts of it: until a show, one leg
problems    exceptions: what was wrong, where, and what to do
reading     text, bytes and tables in, an account of every piece out; no store, no widget
diary       what is remembered: files and SQLite, nothing else
recording   sound in, tables out: where songs are, how fast, clips to hear
models      numbers from tables: numpy, pandas, scipy, statsmodels; nothing that reads, writes or draws
demo        the demo tour, made by a process whose truth is known
pages       what is seen: charts, forms, the stage sheet, the leg review; no statistics
cli         the few commands
"""
