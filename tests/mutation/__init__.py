"""Faults put into the bench and the laws of the circuit, one at a time, to see whether a test fails."""
