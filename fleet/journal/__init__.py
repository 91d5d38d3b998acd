"""The journal: the state of every row that decides something, after each action that wrote it, in one chain.

scope.py      what an action writes, and its link of the journal at the end of its transaction
querysets.py  bulk writes that a scope hears of; watching.py, single ones
covered.py    which models and columns; rows.py, their rows as plain values
writing.py    a link with its entries
checking.py   the links against each other and against their entries; comparing.py, rows against their newest entry
migrating.py  what a migration found and wrote
"""
