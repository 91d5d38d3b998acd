"""Inspection intervals and the risk score that they follow from. Plain Python. No page uses it yet."""
