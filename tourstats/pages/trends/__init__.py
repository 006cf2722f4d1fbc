"""Playing trends: is the playing getting more consistent?

words  sentences and tables
chart  its pictures
"""
