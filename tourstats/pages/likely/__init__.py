"""Likely swaps: what may come in tomorrow.

form       a part of the set known; what to learn by a day
new_songs  the songs that are new to me, in words and tables
words      sentences and tables
chart      its pictures
"""
