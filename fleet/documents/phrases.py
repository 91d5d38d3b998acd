"""The text of a share, and of a name inside a sentence, in a cover report."""


def percent(share: float | None) -> str:
    """Return a share as "12 %", below half a per cent as "< 1 %", or a dash for no share."""
    if share is None:
        return "–"
    return "< 1 %" if 0 < share < 0.005 else f"{100 * share:.0f} %"


def lower_first(words: str) -> str:
    """Return a text with a small first letter, unless the second is a capital too ("APL valve")."""
    return words if words[1:2].isupper() else words[:1].lower() + words[1:]
