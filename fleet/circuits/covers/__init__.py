"""Stored cover tables of gas circuits: computed in the background, shown on pages, counted over the fleet."""
