"""Leg review: one page of prose with computed numbers.

words    its parts, each a model asked once
printed  the same as HTML and PDF
"""
