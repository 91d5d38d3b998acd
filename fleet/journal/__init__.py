"""The journal: the state of every row that decides something, after each action that wrote it, in one chain.

writing.py    a link with its entries, from what an action wrote (fleet/acting)
checking.py   compares links with each other and with their entries; comparing.py, rows with their newest entry
migrating.py  journals what a migration found and wrote

The journal stores states after each action instead of a daily digest of each table: a difference is reported at once
and by field, and a digest would include an alteration of the same day.
"""
