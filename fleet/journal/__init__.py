"""The journal: the state of every row that decides something, after each action that wrote it, in one chain.

writing.py    a link with its entries, from what an action wrote (fleet/acting)
checking.py   the links against each other and against their entries; comparing.py, rows against their newest entry
migrating.py  what a migration found and wrote
"""
