"""What a script of the bench needs in order to read a text as the server does: decimal sign, rows, units."""

import json

from fleet.catalogue.dimensions import DIMENSIONS
from fleet.catalogue.plausibility import bounded_words, reading_bounds
from fleet.place_format import current
from inspections.at_bench.slots import MAX_ROWS


def typing_rules():
    """Return as JSON the decimal sign of the place, the most rows of a table, and every unit by its symbol.

    A unit has its dimension in words, its other spellings, and the ends between which a number in it is plausible.
    """
    known = [one for one in DIMENSIONS.values() if not one.is_answer]
    units = {unit.symbol: _described(dimension, unit) for dimension in known for unit in dimension.units}
    return json.dumps({"decimal": current().decimal, "rows": MAX_ROWS, "units": units}, ensure_ascii=False)


def _described(dimension, unit):
    low, high = (_in_unit(end, unit) for end in (dimension.bounds.low, dimension.bounds.high))
    accepted = bounded_words(unit, reading_bounds(dimension))
    named = {"of": dimension.name.lower(), "spellings": list(unit.spellings)}
    return named | {"low": low, "high": high, "accepted": accepted}


def _in_unit(si, unit):
    return float(f"{(si - unit.zero) / unit.factor:.9g}")
