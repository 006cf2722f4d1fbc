"""Show day: the set is here, what does it mean, what is to be run?

words      its rows and sections as tables and sentences, the same for page and command
on_screen  the set in order, the plan beside it, the rest folded
form       the page
"""
