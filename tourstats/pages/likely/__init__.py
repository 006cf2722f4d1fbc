"""Likely swaps: what may come in tomorrow.

words  sentences and tables
chart  its pictures
"""
