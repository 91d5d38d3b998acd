"""Numbers with a decimal point or a decimal comma; one that can be read both ways is refused."""

import re

PLAIN = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
GROUPED_COMMA = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:,[0-9]{3})+\.[0-9]+|[+-]?[1-9][0-9]{0,2}(?:,[0-9]{3}){2,}")
GROUPED_POINT = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:\.[0-9]{3})+,[0-9]+|[+-]?[1-9][0-9]{0,2}(?:\.[0-9]{3}){2,}")
ONE_GROUP = re.compile(r"[+-]?[1-9][0-9]{0,2}[,.][0-9]{3}")
BLANK_IN_NUMBER = re.compile(r"(?<=[0-9])[ \u00a0\u202f](?=[0-9]{3}(?![0-9]))")


def has_decimal_comma(text: str) -> bool:
    """Return whether the comma of this text can only be a decimal mark."""
    bare = BLANK_IN_NUMBER.sub("", text)
    return bool(COMMA.fullmatch(bare) and not ONE_GROUP.fullmatch(bare)) or bool(GROUPED_POINT.fullmatch(bare))


def number_in(text: str, *, comma_used: bool = False) -> float | None:
    """Return the number in a text, or None if there is none or it is ambiguous (1,234; see also comma_used).

    comma_used  the column has decimal commas elsewhere, so that 1.234 can be one or a thousand
    """
    bare = BLANK_IN_NUMBER.sub("", text.strip()).replace("−", "-")
    if ONE_GROUP.fullmatch(bare) and ("," in bare or comma_used):
        return None
    if PLAIN.fullmatch(bare):
        return float(bare)
    if GROUPED_COMMA.fullmatch(bare):
        return float(bare.replace(",", ""))
    if GROUPED_POINT.fullmatch(bare):
        return float(bare.replace(".", "").replace(",", "."))
    if COMMA.fullmatch(bare):
        return float(bare.replace(",", "."))
    return None
