"""The SQLite file, and nothing that knows what a song is: safe to open, changed whole, undone, copied.

place       where the diary is
trouble     what can go wrong with the file, each with what to do about it
file        opening it, looked at first
migrations  its layout, step by step
schema      columns and triggers that follow from `tables`
values      cells on their way in
frames      tables on their way out
changes     one change, whole or not at all, and `undo`
copies      made by themselves, by hand, checked, taken back
"""
