"""What an action writes, collected while it runs and handed to the journal (fleet/journal) at its end.

scope.py      what an action writes, in one transaction
shared_values.py  rows as values, equal ones converted once
querysets.py  bulk writes that a scope hears of; watching.py, single ones
covered.py    which models and columns; rows.py, their rows as plain values
"""
