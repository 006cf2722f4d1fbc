"""Start with your own tour: the first file or set.

form     the page
reading  what somebody brings, read without writing
"""
