"""What the head of a bench page says of units and test set."""

from dataclasses import dataclass

from inspections.at_bench.units_here import UnitHere, choices_of_tests, units_here

AT_HAND = 2


@dataclass(frozen=True, slots=True)
class BenchHead:
    """`units` are those of the whole inspection; the two that the step asks for most can be changed with one press."""

    units: list[UnitHere]
    of_step: frozenset[str]

    @property
    def changeable(self):
        return [one for one in self.units if one.choice.code in self.of_step][:AT_HAND]

    @property
    def others(self):
        at_hand = self.changeable
        return [one for one in self.units if one not in at_hand]


def head_of(step, steps=None):
    """Return the head of a step's page. `steps` are those of the inspection that apply, read here if not given."""
    inspection = step.inspection
    if steps is None:
        codes = inspection.steps.that_apply().values_list("test_code", flat=True).distinct().order_by()
    else:
        codes = [one.test_code for one in steps]
    site = inspection.machine.site.place_format
    of_step = frozenset(choice.code for choice in choices_of_tests([step.test_code]))
    return BenchHead(units_here(choices_of_tests(codes), inspection.units, site), of_step)
