"""Numbers with a decimal point or a decimal comma. Both are read everywhere; a text that could mean two is refused."""

import re

POINT, COMMA = ".", ","
MINUS_SIGNS = str.maketrans({"\N{MINUS SIGN}": "-"})
WRITTEN = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)")
EXPONENT = re.compile(r"[eE][+-]?[0-9]{1,3}\Z")
ONE_GROUP = re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}")
GROUPED = re.compile(r"[+-]?[0-9]{1,3}(?:[.,'’ \u00a0\u202f][0-9]{3})+(?:[.,][0-9]*)?")
LONGEST = 40


class NumberRefused(ValueError):
    """A text that is no number, or could be two; the message says what is accepted."""


def read_number(text: str, decimal: str = POINT, *, exponent: bool = False) -> str:
    """Return the number that a text writes, with a point, every digit kept: "3,10" gives "3.10".

    decimal   sign of the place. The other one is read too, except before exactly three digits, where it may part
              thousands: "1,234" is refused in a place with a point, "1.234" in one with a comma
    exponent  whether a power of ten, such as 1e-6, is accepted
    Raises NumberRefused.
    """
    bare = text.strip().translate(MINUS_SIGNS)
    power = EXPONENT.search(bare) if exponent else None
    digits = bare[: power.start()] if power else bare
    if WRITTEN.fullmatch(digits):
        _refuse_two_meanings(digits, decimal)
        return digits.replace(COMMA, POINT) + (power[0] if power else "")
    if GROUPED.fullmatch(digits):
        raise NumberRefused(
            f"“{text[:LONGEST]}” has signs or spaces between its thousands, so it can be read in two ways. Write "
            f"digits with one decimal sign at most, such as {with_decimal_sign('1234.5', decimal)}."
        )
    raise NumberRefused(
        f"“{text[:LONGEST]}” is not a number. Write digits with a decimal point or a decimal comma, such as 24.5 or "
        "24,5."
    )


def with_decimal_sign(text: str, decimal: str) -> str:
    """Return a number that was written with a point with the sign of the place."""
    return text.replace(POINT, decimal)


def number_text(value: float, decimal: str = POINT) -> str:
    """Return a number with as many digits as tell it from every other one, with the sign of the place."""
    number = float(value)
    text = str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)
    return with_decimal_sign(text, decimal)


def _refuse_two_meanings(digits: str, decimal: str) -> None:
    other = COMMA if decimal == POINT else POINT
    if other in digits and ONE_GROUP.fullmatch(digits):
        whole = digits.replace(other, "")
        own = digits.replace(other, decimal)
        raise NumberRefused(f"“{digits}” can be read as {own} or as {whole}. Write {own} or {whole}.")
