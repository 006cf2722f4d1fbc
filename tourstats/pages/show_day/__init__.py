"""Show day: the set is here, what does it mean, what is to be run?

words  its sections as sentences and tables, the same for page and command
form   the page
"""
