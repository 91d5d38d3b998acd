"""Serious incidents: what is frozen of a machine in that hour, and which clocks start."""
