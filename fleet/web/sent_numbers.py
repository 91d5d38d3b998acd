"""Keys and counts that a hidden field or a button sends back: ours, unless somebody writes the request by hand."""

import re

NUMBER = re.compile(r"[0-9]{1,18}")  # what both databases hold as a key


def sent_number(text):
    """Return the whole number that was sent, 0 for anything else: no row has that key, and nothing is counted so."""
    return int(text) if text and NUMBER.fullmatch(text) else 0
