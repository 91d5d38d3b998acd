"""The journal: the state of every row that decides something, after each action that wrote it, in one chain.

scope.py      collects what an action writes, and adds its link at the end of the transaction
querysets.py  reports bulk writes to the scope; watching.py, single ones
covered.py    the models and columns; rows.py, their rows as plain values
writing.py    a link with its entries
checking.py   compares links with each other and with their entries; comparing.py, rows with their newest entry
migrating.py  journals what a migration found and wrote

The journal stores states after each action instead of a daily digest of each table: a difference is reported at once
and by field, and a digest would include an alteration of the same day.
"""
