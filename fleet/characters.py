"""Which characters a text may hold: one rule for forms, API, imported files, the command line and exports.

Refused are control characters other than tab and line end, halves of surrogate pairs and noncharacters, which no
page, workbook or paper can show, and the characters that order text against its script, which make a name look like
another one. Direction marks, joiners and other characters without width are accepted: scripts need them.
Source: The Unicode Standard, section 23.1 (control codes), 23.7 (noncharacters); UAX 9, section 2.
"""

import re

CONTROLS = r"\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ufdd0-\ufdef\ufffe\uffff"
SURROGATES = r"\ud800-\udfff"
REORDERING = r"\u202a-\u202e\u2066-\u2069"
UNPRINTABLE = re.compile(f"[{CONTROLS}{SURROGATES}]")
REFUSED = re.compile(f"[{CONTROLS}{SURROGATES}{REORDERING}]")
# For the documents of the API: JSON in UTF-8 cannot hold half of a surrogate pair, nor can a pattern name one.
ACCEPTED_CHARACTER = f"[^{CONTROLS}{REORDERING}]"
ACCEPTED_WORD = rf"[^\s{CONTROLS}{REORDERING}]"
NAMES = {0x00: "zero byte", 0x0B: "vertical tab", 0x0C: "form feed", 0x1B: "escape", 0x7F: "delete"}
ACCEPTED = "letters, digits, punctuation, tabs and line ends."


def refusal_of(text: str) -> str:
    """Return why a text cannot be accepted, as a sentence; empty if it can."""
    found = REFUSED.search(text)
    if not found:
        return ""
    return f"Character {found.start() + 1} is {name_of(found[0])}, which cannot be printed. Accepted: {ACCEPTED}"


def name_of(character: str) -> str:
    """Return "U+000B (vertical tab)"."""
    code = ord(character)
    name = NAMES.get(code, "direction override" if re.match(f"[{REORDERING}]", character) else "control character")
    return f"U+{code:04X} ({name})"


def printable(text: str) -> str:
    """Return the text for drawings and sheets: a blank for each unprintable character."""
    return UNPRINTABLE.sub(" ", text)


def encodable(text: str) -> str:
    """Return the text with U+FFFD for halves of surrogate pairs, which no encoding can write."""
    return text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
