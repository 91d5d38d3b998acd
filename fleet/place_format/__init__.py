"""How a place writes numbers, days, quantities and paper. Plain Python.

Stored values never follow a place: a number is stored with a point, a quantity in SI or in the unit it was read in.
"""

from fleet.place_format.current import counted, current, fixed, use, using
from fleet.place_format.days import DAY_STYLES, DayStyle, day_text, read_written_day, short_day_text
from fleet.place_format.money import money_text
from fleet.place_format.numbers import POINT, NumberRefused, number_text, read_number, with_decimal_sign
from fleet.place_format.place import DECIMAL_SIGNS, NEUTRAL, PAPER_SIZES, PlaceFormat
from fleet.place_format.quantities import (
    UnitChoice,
    choice_of,
    converted,
    quantities_in_words,
    quantity_text,
    rounded_quantity,
    shown_unit,
    unit_choice_problem,
    unit_choices,
)

__all__ = [
    "DAY_STYLES",
    "DECIMAL_SIGNS",
    "DayStyle",
    "NEUTRAL",
    "NumberRefused",
    "PAPER_SIZES",
    "POINT",
    "PlaceFormat",
    "UnitChoice",
    "choice_of",
    "converted",
    "counted",
    "current",
    "day_text",
    "fixed",
    "money_text",
    "number_text",
    "quantities_in_words",
    "quantity_text",
    "read_number",
    "read_written_day",
    "rounded_quantity",
    "short_day_text",
    "shown_unit",
    "unit_choice_problem",
    "unit_choices",
    "use",
    "using",
    "with_decimal_sign",
]
