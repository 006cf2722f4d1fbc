"""Repeat audience: how new a night was to those who travel.

form   a draft scored, counts at the door, a person forgotten
words  sentences and tables
chart  its pictures
"""
