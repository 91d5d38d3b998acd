"""The one table of what can be measured: its factors, its safe defaults, and what depends on it."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from fleet.catalogue.dimensions import (
    ALL_UNITS,
    DIMENSIONS,
    UNITS,
    USES,
    Dimension,
    Unit,
    add_dimensions,
    dimension_from,
    find_unit,
    scale_dimensions,
)
from fleet.catalogue.loading import CatalogueError, Entry
from fleet.catalogue.plausibility import scale_problems, use_problem, value_problem
from fleet.circuit.units import UNITS_BY_DIMENSION, from_si, text_in, to_si
from tests.fleet.catalogue.added import TORQUE, added

SI_IN_PINT = {
    "pressure": "pascal", "flow": "meter ** 3 / second", "fraction": "", "time": "second", "temperature": "delta_degC",
    "volume": "meter ** 3", "resistance": "ohm", "current": "ampere", "voltage": "volt", "rate": "1 / second",
    "force": "newton", "mass": "kilogram", "length": "meter", "energy": "joule",
    "pressure per flow": "pascal * second / meter ** 3", "flow per pressure": "meter ** 3 / second / pascal",
    "pressure per time": "pascal / second", "compliance": "meter ** 3 / pascal",
}  # fmt: skip
NOT_IN_PINT = {
    "sound level": "a level", "observation": "an answer", "amount": "counted in its own unit", "position": "counted",
}  # fmt: skip
BY_UNIT = [(code, unit) for code, dimension in DIMENSIONS.items() for unit in dimension.units]


@pytest.fixture(scope="module")
def registry():
    registry = pint.UnitRegistry()
    registry.define("water_column_cm = 98.0665 pascal")  # ISO 80000-4, conventional water
    registry.define("mercury_column_mm = 133.322387415 pascal")  # ISO 80000-4, conventional mercury
    return registry


@pytest.mark.parametrize(("code", "unit"), BY_UNIT, ids=lambda value: getattr(value, "symbol", value))
def test_pint_agrees_with_every_factor(code, unit, registry):
    if code in NOT_IN_PINT:
        assert unit.factor == 1
        return
    assert unit.factor == approx(
        registry.Quantity(1, unit.pint or unit.symbol).to(SI_IN_PINT[code]).magnitude, rel=1e-12
    )


def test_every_dimension_is_checked_by_pint_or_says_why_not():
    assert DIMENSIONS.keys() == SI_IN_PINT.keys() | NOT_IN_PINT.keys()


def test_a_bare_entry_needs_an_instrument_and_refuses_a_reading_below_zero():
    bounds = {"high": 10, "finest": 1e-3, "unit": "Nm"}
    source = {"source": "common practice, no source", "edition": "", "basis": "common practice, no source"}
    table = {"code": "torque", "name": "Torque", "si": "Nm", "units": [{"symbol": "Nm", "factor": 1.0}]}
    found = dimension_from(Entry("x.toml", 1, {**table, "bounds": bounds, **source}))
    assert (found.needs_instrument, found.may_be_negative, found.is_derived, found.has_zero) == (
        True,
        False,
        False,
        False,
    )


@pytest.mark.parametrize("code", ["resistance", "current", "voltage", "rate", "force", "mass", "length", "sound level",
                                  "energy"])  # fmt: skip
def test_what_was_missing_is_there_with_safe_defaults(code):
    assert DIMENSIONS[code].needs_instrument and not DIMENSIONS[code].may_be_negative
    assert code in UNITS and code in UNITS_BY_DIMENSION and code in dict(scale_dimensions())


def test_a_fraction_is_read_in_percent_and_ppm():
    assert UNITS["fraction"] == ("%", "ppm")
    assert to_si(25, "ppm") == approx(25e-6)


def test_a_unit_that_is_taken_is_refused():
    with pytest.raises(CatalogueError, match="'kPa', a unit of torque, belongs to another dimension"):
        add_dimensions([Dimension("torque", "Torque", "Nm", (Unit("kPa", 1.0),), TORQUE.bounds)])
    with pytest.raises(CatalogueError, match="pressure is already in the table"):
        add_dimensions([DIMENSIONS["pressure"]])


def test_a_dimension_that_is_added_is_everywhere_at_once_and_gone_again():
    with added():
        assert find_unit("Nm")[0] is TORQUE
        assert ("torque", "Torque") in scale_dimensions() and "Nm" in ALL_UNITS
        assert UNITS_BY_DIMENSION["torque"] == ("Nm", "mNm")
        assert text_in(5.256, "Nm") == "5.26 Nm"
    assert "torque" not in DIMENSIONS and find_unit("Nm") is None and "torque" not in UNITS


@given(st.data(), st.sampled_from([(code, unit) for code, unit in BY_UNIT if code != "observation"]))
def test_a_number_within_the_bounds_is_plausible_and_one_beyond_is_refused_in_words(data, chosen):
    code, unit = chosen
    bounds = DIMENSIONS[code].bounds
    low, high = from_si(bounds.low, unit.symbol), from_si(bounds.high, unit.symbol)
    inside = data.draw(st.just(0.0) | st.floats(from_si(bounds.finest, unit.symbol) if low else 0, high))
    assert unit.zero or value_problem(inside, unit.symbol) is None
    beyond = data.draw(st.sampled_from([high * 2 + 1, low * 2 - 1, 1e308, -1e308, float("inf"), float("nan"), 5e-324]))
    sentence = value_problem(beyond, unit.symbol).of(f"{beyond:g} {unit.symbol}")
    assert unit.symbol in sentence and "Accepted: " in sentence


@pytest.mark.parametrize("use", USES)
def test_each_use_refuses_what_is_beyond_it(use):
    bounds = USES[use].bounds
    middle = ((bounds.low + bounds.high) / 2 - bounds.unit.zero) / bounds.unit.factor
    assert use_problem(middle, use) is None
    for value in (1e9, -1e9, float("nan")):
        assert use_problem(value, use)


GOOD = {"unit": "kPa", "low": 0.0, "high": 1000.0, "resolution": 0.5, "of_reading_percent": 0.5, "of_span_percent": 0.0,
        "absolute": 0.0, "coverage_factor": 2.0}  # fmt: skip


@given(name=st.sampled_from([name for name in GOOD if name != "unit"]),
       value=st.sampled_from([1e308, -1e308, float("inf"), float("-inf"), float("nan")]))  # fmt: skip
def test_no_number_of_a_scale_may_be_without_end(name, value):
    assert scale_problems(GOOD) == {}
    assert scale_problems({**GOOD, name: value}).keys() & {name, "high"}


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"resolution": 5e-324}, "resolution"),
        ({"resolution": 1001.0}, "resolution"),
        ({"absolute": 1001.0}, "absolute"),
        ({"coverage_factor": 0.01}, "coverage_factor"),
        ({"coverage_factor": 1e-300}, "coverage_factor"),
        ({"of_reading_percent": 101.0}, "of_reading_percent"),
        ({"high": 0.0}, "high"),
    ],
)
def test_a_scale_that_no_instrument_has_is_refused_at_its_field(change, field):
    assert field in scale_problems({**GOOD, **change})
