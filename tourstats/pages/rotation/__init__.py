"""Rotation: how songs go round.

words  sentences and tables
form   the picture of the tour asked otherwise
chart  its pictures
"""
