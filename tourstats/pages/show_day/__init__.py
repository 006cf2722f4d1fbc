"""Show day: the set is here, what does it mean, what is to be run?

words      its rows and sections as tables and sentences, the same for page and command
on_screen  the set in order, the plan beside it, the rest folded
photo      a photo of the set, read into the form and shown beside it
form       the page
"""
