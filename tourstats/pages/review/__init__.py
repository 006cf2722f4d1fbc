"""Leg review: one page of prose with computed numbers.

form     any leg, with the minutes of the break
words    its parts, each a model asked once
printed  the same as HTML and PDF
"""
