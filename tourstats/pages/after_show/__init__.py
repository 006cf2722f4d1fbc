"""After the show: what was played, what the recording told.

form            the page
played          the set as it was played
findings_form   what was found on the recording
notes_and_runs  notes, and what was run today
written_down    what the diary has of this show
"""
