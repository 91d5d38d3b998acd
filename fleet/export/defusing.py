"""Texts that a spreadsheet would run as a formula, shorten as a number or read as an error, protected as texts."""

import re

ERRORS = ("#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!", "#CALC!")
# Source: OWASP, CSV Injection: = + - @ also in full width, tab and line ends; leading blanks are skipped.
FORMULA = r"[\s\u200b-\u200f\u2060\ufeff]*[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]"
SHORTENED_NUMBER = r"\s*[.,]?\d[\d.,]*[eE][+-]?\d+\s*\Z"
RISKY = re.compile(rf"'*(?:{FORMULA}|{SHORTENED_NUMBER}|\s*(?:{'|'.join(map(re.escape, ERRORS))})\s*\Z)", re.IGNORECASE)
DEFUSED = re.compile("'" + RISKY.pattern, re.IGNORECASE)


class Kept(str):
    """A text that somebody has marked as text: never read as an error or a shortened number."""


def defused(text: str) -> str:
    """Return the text with an apostrophe before it if a spreadsheet would not read it as text."""
    return f"'{text}" if RISKY.match(text) else text


def undefused(text: str) -> str:
    """Undo `defused`: undefused(defused(text)) == text for every text. A text marked as text is returned as Kept."""
    return Kept(text[1:]) if DEFUSED.match(text) else text
