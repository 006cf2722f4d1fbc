"""Rotation: how songs go round.

words  sentences and tables
chart  its pictures
"""
