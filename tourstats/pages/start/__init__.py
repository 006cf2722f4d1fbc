"""Start with your own tour: the first file or set.

form     the page
"""
