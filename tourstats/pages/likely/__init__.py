"""Likely swaps: what may come in tomorrow.

form   a part of the set known
words  sentences and tables
chart  its pictures
"""
