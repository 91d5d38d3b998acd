"""Rounds of work at the bench while network, tabs, browsers and the server fail."""
