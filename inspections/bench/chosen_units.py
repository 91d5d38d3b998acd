"""Units that were chosen for an inspection, and what is shown in them."""

from collections.abc import Mapping

from fleet.catalogue.dimensions import find_unit
from fleet.place_format import PlaceFormat, choice_of, shown_unit


def chosen_unit(symbol: str, units: Mapping[str, str]) -> str:
    """Return the unit chosen for what is declared in `symbol`, empty where none is.

    units  the chosen unit by code of its UnitChoice: a dimension, or a group of its units such as airway pressure
    A unit made of others, such as "psi per L/min", follows the choices for those where the table has it.
    """
    if not units or find_unit(symbol) is None:
        return ""
    shown = shown_unit(symbol, PlaceFormat(units=tuple(sorted(units.items()))))
    return shown if shown != symbol or units.get(choice_of(symbol)) == symbol else ""
