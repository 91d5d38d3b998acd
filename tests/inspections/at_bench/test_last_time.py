"""What was read last time is shown in the unit of today to the step of its last digit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.catalogue.dimensions import DIMENSIONS
from fleet.place_format import converted, using
from fleet.place_format.place import PlaceFormat
from inspections.at_bench.last_time import LastTime
from inspections.models import Reading

SEVERAL = [one for one in DIMENSIONS.values() if len(one.units) > 1 and not one.is_answer]


@given(
    dimension=st.sampled_from(SEVERAL),
    units=st.tuples(st.integers(0, 9), st.integers(0, 9)),
    number=st.decimals(-500, 5000, places=2).map(str) | st.integers(0, 5000).map(str),
    decimal=st.sampled_from(".,"),
)
def test_a_converted_value_is_that_which_was_read_to_the_step_of_its_last_digit(dimension, units, number, decimal):
    read, wanted = (dimension.units[index % len(dimension.units)] for index in units)
    with using(PlaceFormat(decimal=decimal)):
        last = LastTime(Reading(as_read=number, unit=read.symbol), wanted.symbol)
        shown, as_read = last.shown, last.as_read
    assert as_read == f"{number.replace('.', decimal)} {read.symbol}"
    digits, _, symbol = shown.partition(" ")
    assert symbol == wanted.symbol
    step = 10 ** -len(number.partition(".")[2]) * read.factor / wanted.factor
    wide = min(step, 1.0)  # no place before the decimal sign is rounded away
    exact = converted(float(number), read, wanted)
    assert abs(float(digits.replace(decimal, ".")) - exact) <= wide / 2 + abs(exact) * 1e-9
    if read is wanted:
        assert shown == as_read and not last.is_converted


@pytest.mark.parametrize(
    ("read", "unit", "shown"),
    [
        (("358", "kPa"), "psi", "51.9 psi"), (("45", "psi"), "kPa", "310 kPa"),
        (("150", "mL/min"), "L/min", "0.150 L/min"),
        (("3.1", "bar"), "psi", "45 psi"), (("20", "°C"), "°F", "68 °F"), (("45", "psi"), "L/min", "45 psi"),
        (("yes", "yes/no"), "", "yes"), (("shut-off", ""), "", "shut-off"), (("45", "psi"), "psi", "45 psi"),
    ],
)  # fmt: skip
def test_a_value_of_last_time_has_sensible_digits(read, unit, shown):
    """358 kPa are 51.92 psi, 45 psi are 310.3 kPa; factors from ISO 80000-4 and the definition of the pound."""
    last = LastTime(Reading(as_read=read[0], unit=read[1]), unit)
    assert last.shown == shown
