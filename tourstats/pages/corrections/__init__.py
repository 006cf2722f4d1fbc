"""Corrections: what is in the diary, put right, and taken along.

form    the page
export  every table, the review and the sheets as files
"""
