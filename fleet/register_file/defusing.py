"""Cells that a spreadsheet would run as a formula, or shorten as a number, leave as text and come back as they were."""

import re

# As in the advice on formula injection of OWASP: = + - @ tab and carriage return at the start of a cell.
RISKY = re.compile(r"'*(?:[=+\-@\t\r]|\d+(?:[.,]\d+)?[eE][+-]?\d+$)")
DEFUSED = re.compile(r"'" + RISKY.pattern)


def defused(text: str) -> str:
    """Return the text with an apostrophe before it if a spreadsheet would take it for more than text."""
    return f"'{text}" if RISKY.match(text) else text


def undefused(text: str) -> str:
    """Undo `defused`: for every text, undefused(defused(text)) == text."""
    return text[1:] if DEFUSED.match(text) else text
