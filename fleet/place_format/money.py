"""An amount of money as a place writes it."""

from decimal import Decimal

from fleet.catalogue.currencies import smallest_unit
from fleet.place_format.current import counted, current
from fleet.place_format.numbers import with_decimal_sign


def money_text(amount: Decimal | int, currency: str) -> str:
    """Return an amount with its currency, such as “12,400 EUR” or “12.50 EUR”; a part of the smallest unit is kept.

    Raises UnknownCurrency for a code that is not in the list.
    """
    amount = Decimal(amount)
    smallest = smallest_unit(currency)
    whole, part = divmod(abs(amount), 1)
    sign = "−" if amount < 0 else ""
    if not part:
        return f"{sign}{counted(int(whole))} {currency}"
    digits = str(part.quantize(smallest) if part == part.quantize(smallest) else part.normalize())
    return f"{sign}{counted(int(whole))}{with_decimal_sign(digits[1:], current().decimal)} {currency}"
