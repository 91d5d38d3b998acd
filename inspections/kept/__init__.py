"""Rows that follow from the records of a machine: kept, and renewed by the action that changes what they follow from.

keeping.py     how rows of any kind are renewed, compared and filled
due_dates.py   what became of each due date
job.py         every row compared with what it should be, and mended, at night
"""
