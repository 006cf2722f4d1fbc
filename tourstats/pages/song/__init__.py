"""A song, a show or a venue: everything the diary knows of it, and the one field that finds them.

words      sentences and tables, for the page and the command alike
form       the field, what it found, and the page of what was chosen
shape      its sections: pasted, shown as understood, saved
self_test  the test of its shape, by keyboard
chart      its sections as a strip to scale
printed    its sections on one page of paper
"""
