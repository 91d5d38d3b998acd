"""The units of an inspection: one for each dimension that its tests use, chosen when it starts.

A choice is a UnitChoice of fleet.place_format: a dimension, or a group of its units such as airway pressure.
"""

from dataclasses import dataclass

from fleet.catalogue.dimensions import find_unit
from fleet.place_format import UnitChoice, choice_of, unit_choices
from inspections.bench import TESTS
from inspections.models import BenchUnits

AS_DECLARED = "as asked"


@dataclass(frozen=True, slots=True)
class UnitHere:
    """One choice as a page offers it. `symbol` is empty where each test asks in the unit that it declares."""

    choice: UnitChoice
    symbol: str
    preferred: str = ""

    @property
    def name(self):
        """The name of its field in a form."""
        return field_name(self.choice.code)

    @property
    def options(self):
        """Values and labels. Where the site prefers a unit, no test asks in its own."""
        own = [] if self.preferred else [("", AS_DECLARED)]
        return [*own, *((symbol, symbol) for symbol in self.choice.symbols)]


def field_name(code):
    return f"unit-{code.replace(' ', '-')}"


def choices_of_tests(codes):
    """Return the choices of what these tests read and compute, in the order of the catalogue."""
    tests = [TESTS[code] for code in set(codes) if code in TESTS]
    declared = {spec.units[0] for test in tests for spec in test.all_readings() if spec.units}
    declared |= {spec.unit for test in tests for spec in test.results}
    wanted = {choice_of(symbol) for symbol in declared if _is_read(symbol)}
    return [choice for choice in unit_choices() if choice.code in wanted]


def _is_read(symbol):
    found = find_unit(symbol)
    return bool(found) and not found[0].is_derived


def units_here(choices, units, place_format):
    """Return each choice with the unit chosen for it, else the one that the site prefers."""
    found = []
    for choice in choices:
        preferred = place_format.unit_of(choice.code) or ""
        chosen = units.get(choice.code, "")
        symbol = chosen if chosen in choice.symbols else preferred
        found.append(UnitHere(choice, symbol, preferred))
    return found


def remembered_units(person):
    """Return the units that a person chose last; empty text for a choice left as each test asks."""
    row = BenchUnits.objects.filter(person=person).first()
    return row.units if row else {}


def unit_of(slot, units, place_format):
    """Return the unit in which a place of an inspection starts.

    Chosen for the inspection, else preferred by its site, else the one that the test declares first.
    """
    code = slot.unit_choice
    wanted = (units.get(code), place_format.unit_of(code))
    return next((symbol for symbol in wanted if symbol in slot.units), slot.units[0])


def units_in_words(units):
    """Return chosen units, such as “pressure in psi, airway pressure in cmH2O”."""
    return ", ".join(f"{code} in {symbol}" for code, symbol in units.items())
