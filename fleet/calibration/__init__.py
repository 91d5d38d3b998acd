"""Calibration certificates: errors over a scale, what was found and left, and the interval that they support.

Plain Python. Figures are in one unit, which each function names; differences scale without an offset.
"""
