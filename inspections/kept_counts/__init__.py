"""Numbers of inspections and machines, kept: a page adds up a few of them instead of counting many rows.

tallies.py      what is counted, by what, and which numbers written rows touch
counts.py       how numbers are renewed by actions, compared and filled
work_counts.py  how pages add them up
"""
