"""Hostile text in every text column, and what must not become of it."""
