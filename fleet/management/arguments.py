"""Arguments that several commands take."""

from argparse import ArgumentTypeError

from fleet.characters import refusal_of


def words(text: str) -> str:
    """Accept a text by the rule of fleet/characters.py; bytes that are no UTF-8 arrive as halves of surrogate pairs."""
    reason = refusal_of(text)
    if reason:
        raise ArgumentTypeError(reason)
    return text
