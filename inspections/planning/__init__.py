"""Inspection intervals, the risk score that they follow from, codes of findings, rates of failure. Plain Python."""
