"""Corrections: what is in the diary, put right, and taken along.

form     the page
gaps     what songs lack, in one table
leaving  every table, the review and the sheets as files
"""
