"""Repeat audience: how new a night was to those who travel.

words  sentences and tables
chart  its pictures
"""
