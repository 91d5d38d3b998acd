"""What does not count as the source of a limit, or as the reason for it. Imported by models, so it imports nothing."""

import unicodedata

# Texts of this list are refused by the database too, in any case and with spaces around them.
NO_SOURCE = (
    "", "-", "--", "–", "—", ".", "..", "...", "?", "??", "???", "/", "n/a", "na", "n.a.", "none", "no", "nil", "null",
    "nothing", "no source", "no reason", "without", "without source", "unknown", "not known", "not specified",
    "unspecified", "tbd", "tbc", "to do", "todo", "to follow", "x", "xx", "xxx", "test", "source", "reason",
)  # fmt: skip
LEAST = 3  # letters or digits


def names_something(text):
    """Return whether `text` can be a source or a reason: three letters or digits, and no word for nothing."""
    said = "".join(letter for letter in unicodedata.normalize("NFKC", text) if letter.isprintable())
    bare = " ".join(said.casefold().strip(" .,;:!?-–—_/()[]\"'“”").split())
    return bare not in NO_SOURCE and sum(letter.isalnum() for letter in bare) >= LEAST
