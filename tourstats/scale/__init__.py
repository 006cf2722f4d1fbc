"""Ticket scans by the million: taken in once, counted whenever asked, on one machine or on several.

taking         files of scans into a folder of buckets beside the diary, and people taken out of it again
scan_files     such files, a part at a time
scan_problems  what is wrong with them
siphash        people as numbers, under a key
buckets        scans as numbers, all of one person in one file
counting       freshness and songs heard from buckets, in threads or on Dask's workers
"""
