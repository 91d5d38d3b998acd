"""The current state of every machine: one row, renewed by the action that changes what it is computed from.

concerned.py   which machines a written row concerns
computing.py   the state of machines, from the querysets and rules that define it
renewing.py    rows locked, computed and written at the end of an action
reading.py     whether the rows can be used for a day
comparing.py   every row compared with what it should be, and mended; at night by job.py
migrating.py   filled after migrations
"""
