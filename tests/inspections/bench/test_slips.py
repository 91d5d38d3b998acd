"""When to ask about a reading: properties over units, digits and histories, and examples worked by hand."""

from decimal import Decimal
from itertools import permutations
from math import log

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from fleet.catalogue.dimensions import DIMENSIONS, find_unit
from inspections.bench.quantities import UNITS, Zero, from_si
from inspections.bench.registry import TESTS
from inspections.bench.slips import (
    Range,
    Read,
    Typed,
    alternatives_to,
    density,
    distance,
    knowledge_of,
    other_units,
    question_about,
    shifted,
    swapped,
)
from inspections.bench.slips.usual import USUAL, ranges_of, usual_of

PLACE = ("pressure", 0, "")
COMPARED = {code: dimension for code, dimension in DIMENSIONS.items() if len(dimension.units) > 1}
RATIOS = [code for code, dimension in COMPARED.items() if not any(unit.zero for unit in dimension.units)]


def figures(value, count=4):
    """Write a number with so many significant figures, without a power of ten."""
    return format(Decimal(f"{value:.{count}g}"), "f")


def history(*typed, slot=PLACE):
    return [Read(slot, one.value, one.step, occasion) for occasion, one in enumerate(typed)]


def pressures(*texts):
    return history(*(Typed(*text.split()) for text in texts))


def asked(typed, earlier, units=UNITS["pressure"], **more):
    slot = more.pop("slot", PLACE)
    return question_about(typed, units, knowledge_of(slot, earlier, **more))


def offers(question):
    return [(one.typed.digits, one.typed.unit) for one in question.alternatives]


def is_offered(question, value, within=0.02):
    """Whether a value, SI, is among the alternatives, to what rounding makes of it."""
    return question is not None and any(abs(one.typed.value / value - 1) < within for one in question.alternatives)


@st.composite
def read_before(draw, dimensions=RATIOS, spread=0.01):
    """A dimension, a unit in which it was read, and readings of one place that differ by no more than `spread`."""
    code = draw(st.sampled_from(dimensions))
    unit = draw(st.sampled_from(DIMENSIONS[code].symbols))
    middle = draw(st.floats(20, 900))
    count = draw(st.integers(3, 6))
    values = [middle * (1 + draw(st.floats(-spread, spread))) for _ in range(count)]
    return code, unit, [Typed(figures(value), unit) for value in values]


# --- what is asked about ---


@settings(max_examples=40, deadline=None)
@given(read_before(), st.data())
def test_every_mistaken_unit_that_makes_a_factor_of_3_is_asked_about_where_the_history_is_close(read, data):
    code, unit, earlier = read
    factor = find_unit(unit)[1].factor
    others = [other.symbol for other in DIMENSIONS[code].units if not 1 / 3 < other.factor / factor < 3]
    assume(others)
    typed = Typed(earlier[0].digits, data.draw(st.sampled_from(others)))
    question = asked(typed, history(*earlier), DIMENSIONS[code].symbols)
    assert is_offered(question, earlier[0].value)


@settings(max_examples=40, deadline=None)
@given(read_before(), st.sampled_from((-2, -1, 1, 2)))
def test_every_shifted_point_is_asked_about_where_the_history_is_close(read, places):
    code, _, earlier = read
    typed = earlier[0].with_digits(format(Decimal(earlier[0].digits).scaleb(places), "f"))
    question = asked(typed, history(*earlier), DIMENSIONS[code].symbols)
    assert is_offered(question, earlier[0].value)


@settings(max_examples=40, deadline=None)
@given(read_before(spread=0.002), st.data())
def test_swapped_digits_that_change_the_value_by_a_third_are_asked_about_where_the_history_is_close(read, data):
    code, _, earlier = read
    slips = [typed for text in swapped(earlier[0].digits) if _is_far(typed := earlier[0].with_digits(text), earlier[0])]
    assume(slips)
    question = asked(data.draw(st.sampled_from(slips)), history(*earlier), DIMENSIONS[code].symbols)
    assert is_offered(question, earlier[0].value)


def _is_far(one, other):
    return not 2 / 3 < one.value / other.value < 4 / 3


@settings(max_examples=40, deadline=None)
@given(st.floats(15, 29), st.sampled_from(["°C", "°F"]))
def test_a_temperature_in_the_other_unit_is_asked_about(celsius, unit):
    typed = Typed(f"{celsius:.1f}", "°C")
    rooms = history(*(Typed(f"{celsius + away:.1f}", "°C") for away in (-0.4, 0.1, 0.3)))
    own = Typed(f"{from_si(typed.value, unit):.1f}", unit)
    other = Typed(own.digits, "°F" if unit == "°C" else "°C")
    units, linear = DIMENSIONS["temperature"].symbols, {"is_linear": True}
    assert is_offered(asked(other, rooms, units, **linear), own.value)
    assert asked(own, rooms, units, **linear) is None


# --- what is not ---


@settings(max_examples=40, deadline=None)
@given(read_before(spread=0.05), st.data())
def test_a_reading_within_the_scatter_of_its_history_is_never_asked_about_in_any_unit(read, data):
    code, _, earlier = read
    values = [one.value for one in earlier]
    value = data.draw(st.floats(min(values), max(values)))
    unit = data.draw(st.sampled_from(DIMENSIONS[code].symbols))
    number = from_si(value, unit)
    assume(1e-3 < number < 1e9)
    assert asked(Typed(figures(number, 5), unit), history(*earlier), DIMENSIONS[code].symbols) is None


@settings(max_examples=40, deadline=None)
@given(st.floats(10, 999), st.sampled_from(UNITS["pressure"]), st.sampled_from(UNITS["pressure"]))
def test_what_is_unlike_last_time_and_no_slip_of_it_is_a_real_change(value, unit, other):
    """A change that no slip explains is the machine's: it is judged, not doubted."""
    last = Typed(figures(value), other)
    typed = Typed(figures(value * 2.3), unit)
    near = [one for one in alternatives_to(typed, UNITS["pressure"]) if 0.5 < abs(one.typed.value / last.value) < 2]
    assume(not near)
    assert asked(typed, history(last)) is None


@pytest.mark.parametrize("code", COMPARED)
def test_nothing_is_asked_about_zero_and_without_any_knowledge(code):
    units = DIMENSIONS[code].symbols
    if code != "temperature":
        assert asked(Typed("0", units[0]), history(Typed("45", units[0])), units) is None
        assert asked(Typed("0.00", units[0]), history(Typed("45", units[0]), Typed("0", units[0])), units) is None
    assert asked(Typed("45", units[0]), [], units) is None


# --- what knowledge is ---


@settings(max_examples=40, deadline=None)
@given(read_before(spread=0.3), st.data())
def test_the_order_of_the_history_does_not_matter(read, data):
    code, unit, earlier = read
    typed = Typed(figures(data.draw(st.floats(1, 9000))), unit)
    reads, units = history(*earlier), DIMENSIONS[code].symbols
    shuffled = data.draw(st.permutations(reads))
    assert asked(typed, shuffled, units) == asked(typed, reads, units)


@settings(max_examples=40, deadline=None)
@given(read_before(spread=0.05), st.floats(-300, 300), st.sampled_from((-1, 1)))
def test_the_sign_does_not_matter(read, number, sign):
    """Suction is entered below zero: that one time it is, and another time not, is no slip of unit or digits."""
    code, unit, earlier = read
    assume(abs(number) > 0.01)
    signed = [Typed(f"{'-' if sign < 0 else ''}{one.digits}", unit) for one in earlier]
    typed, units = Typed(figures(number), unit), DIMENSIONS[code].symbols
    one, other = asked(typed, history(*earlier), units), asked(typed, history(*signed), units)
    assert (one is None) == (other is None)


@given(st.lists(st.floats(1, 1000), min_size=1, max_size=6), st.floats(1, 1000), st.floats(1e-3, 1e3))
def test_the_unit_of_the_history_does_not_matter_to_its_likelihoods(values, value, factor):
    known = knowledge_of(PLACE, [Read(PLACE, one, 0.1, number) for number, one in enumerate(values)])
    moved = [Read(PLACE, one * factor, 0.1 * factor, number) for number, one in enumerate(values)]
    scaled = knowledge_of(PLACE, moved)
    here = density(known.scale, known.expectations, value)
    assert density(scaled.scale, scaled.expectations, value * factor) == pytest.approx(here, rel=1e-6)


def test_a_repair_in_between_makes_neither_the_value_before_nor_the_one_after_doubtful():
    """A leak of 130 mL/min that a new seal brought down to 15: both values were there."""
    leaks = history(*(Typed(digits, "mL/min") for digits in ("14", "130", "15", "16")))
    for digits in ("15", "131"):
        assert asked(Typed(digits, "mL/min"), leaks, UNITS["flow"]) is None
    assert ("15.0", "mL/min") not in offers(asked(Typed("1500", "mL/min"), leaks, UNITS["flow"]))


def test_a_leak_that_other_readings_of_the_step_show_as_well_is_no_shifted_point():
    """Ten times the leak of last time looks like a shifted point, unless another reading has grown as much."""
    own, beside = ("makeup_flow", 0, ""), ("vaporizers", 0, "flow")
    earlier = [Read(slot, Typed(digits, "mL/min").value, Typed(digits, "mL/min").step, occasion)
               for slot in (own, beside) for occasion, digits in enumerate(("12", "13", "14"))]  # fmt: skip
    now = [Read(own, Typed("128", "mL/min").value, Typed("128", "mL/min").step)]
    typed = Typed("131", "mL/min")
    assert asked(typed, earlier, UNITS["flow"], slot=beside) is not None
    assert asked(typed, earlier, UNITS["flow"], slot=beside, now=now) is None


def test_a_row_of_a_sweep_may_lie_between_its_neighbours_of_last_time():
    """Steps of 15 psi one year and of 6 the next: 40, 25, 10 against 40, 34, 28."""
    rows = [Read(("falling", row, "pressure"), Typed(digits, "psi").value, Typed("1", "psi").step, 0)
            for row, digits in enumerate(("40", "25", "10"))]  # fmt: skip
    for row, digits in ((1, "34"), (2, "14")):
        assert asked(Typed(digits, "psi"), rows, slot=("falling", row, "pressure")) is None


def test_what_is_nothing_beside_the_rest_of_its_column_is_not_compared_and_the_rest_is():
    """The last row of a sweep is at no pressure: 0.002 kPa one year and 0.02 the next say the same."""
    column = [Read(("falling", row, "pressure"), Typed(digits, "kPa").value, 1.0, occasion)
              for occasion in (0, 1) for row, digits in enumerate(("358", "200", "0.002"))]  # fmt: skip
    assert asked(Typed("0.02", "kPa"), column, slot=("falling", 2, "pressure")) is None
    assert ("358", "kPa") in offers(asked(Typed("35.8", "kPa"), column, slot=("falling", 0, "pressure")))


def test_of_finer_digits_than_were_ever_read_little_is_expected():
    """A flowmeter read to 0.01 L/min showed 0.01; 0.12 is a leak, since it cannot have shown 0.012."""
    flows = history(*(Typed("0.01", "L/min") for _ in range(3)))
    assert asked(Typed("0.12", "L/min"), flows, UNITS["flow"]) is None


# --- examples ---

# 358 kPa is 51.9 psi, 45 psi is 310 kPa: 1 psi = 6.894757 kPa (NIST SP 811, B.8). The slips are common practice.
EXAMPLES = [
    (("310 kPa", "312 kPa"), "45 kPa", [("45", "psi")]),
    (("358 kPa", "355 kPa"), "52 kPa", [("52", "psi")]),
    (("52 psi",), "358 psi", [("358", "kPa")]),
    (("3 kPa",), "30 kPa", [("3", "kPa"), ("30", "cmH2O")]),
    (("30 cmH2O", "31 cmH2O"), "30 mmHg", [("30", "cmH2O")]),
    (("137 bar",), "1980 bar", [("1980", "psi")]),
    (("358 kPa", "357 kPa", "359 kPa"), "538 kPa", [("358", "kPa")]),
    (("358 kPa", "357 kPa", "359 kPa"), "35.8 kPa", [("358", "kPa")]),
    (("45 psi", "44.6 psi", "45.3 psi"), "54 psi", [("45", "psi")]),
    (("45 psi", "51 psi", "40 psi"), "54 psi", []),
]


@pytest.mark.parametrize(("earlier", "typed", "meant"), EXAMPLES)
def test_examples_worked_by_hand(earlier, typed, meant):
    question = asked(Typed(*typed.split()), pressures(*earlier))
    assert sorted(offers(question) if question else []) == sorted(meant)


def test_an_absolute_reading_is_compared_as_gauge():
    last = Typed("459.3", "kPa", Zero.ABSOLUTE, 101_325.0)
    assert last.value == pytest.approx(357_975)
    assert asked(Typed("358", "kPa", Zero.GAUGE), history(last)) is None
    below_zero = Typed("52", "kPa", Zero.ABSOLUTE, 101_325.0)
    assert ("52", "psi") in offers(asked(below_zero, history(last)))


# --- alternatives ---


@settings(max_examples=40, deadline=None)
@given(st.decimals(min_value="0.001", max_value=99999, places=3))
def test_swapping_twice_gives_the_digits_back(number):
    text = format(number, "f")
    for other in swapped(text):
        assert sorted(other) == sorted(text) and other != text
        assert text in swapped(other) or text.lstrip("-").startswith("0")


@settings(max_examples=40, deadline=None)
@given(st.decimals(min_value="0.001", max_value=99999, places=3))
def test_shifting_back_gives_the_number_back(number):
    assert [Decimal(one) / Decimal(number) for one in shifted(format(number, "f"))] == [
        Decimal("0.1"), 10, Decimal("0.01"), 100,
    ]  # fmt: skip


def test_every_alternative_keeps_the_zero_of_what_was_typed():
    """By hand: 459.3 kPa absolute is 357.975 kPa gauge; with the point moved, 4593 kPa absolute is 4491.675 gauge."""
    found = alternatives_to(Typed("459.3", "kPa", Zero.ABSOLUTE, 101_325.0), UNITS["pressure"])
    assert {(one.typed.zero, one.typed.ambient_pa_abs) for one in found} == {(Zero.ABSOLUTE, 101_325.0)}
    (moved,) = [one.typed for one in found if one.typed.digits == "4593"]
    assert moved.value == pytest.approx(4_491_675)


@pytest.mark.parametrize(("digits", "others"), [("10", []), ("0.5", ["5.0"]), ("-10", []), ("120", ["210", "102"])])
def test_swapped_digits_never_begin_with_a_needless_zero(digits, others):
    assert swapped(digits) == others


def test_the_distance_of_two_values_is_the_same_either_way_and_none_from_itself():
    """By hand: on the scale of a flow, a natural logarithm, 10 and 1 L/min are ln 10 apart."""
    scale = knowledge_of(PLACE, []).scale
    assert distance(scale, 1e-3, 1e-4) == pytest.approx(log(10)) == distance(scale, 1e-4, 1e-3)
    assert distance(scale, 1e-3, 1e-3) == 0


def test_units_that_hardly_differ_are_no_alternatives():
    for one, other in permutations(("mbar", "hPa", "cmH2O"), 2):
        assert other not in {typed.unit for typed in other_units(Typed("30", one), UNITS["pressure"])}


# --- usual values ---


def test_a_regulator_is_known_to_give_about_45_psi():
    """Trade values: 45 psi from the cylinder, 50 psi from the pipeline (regulators.py, from memory)."""
    for field, psi in (("static_pressure", 45), ("pipeline_pressure", 50)):
        (usual,) = ranges_of("regulator", field)
        assert usual.low < Typed(str(psi), "psi").value < usual.high


def test_every_usual_value_names_a_place_of_its_test_in_a_unit_of_its_dimension():
    for code, places in USUAL.items():
        test = TESTS[code]
        known = {(spec.key, ""): spec for spec in test.readings}
        known |= {(table.key, spec.key): spec for table in test.tables for spec in table.columns}
        for place, usual in places.items():
            assert usual.unit in known[place].units and 0 < usual.low < usual.high, (code, place)


def test_the_usual_value_is_what_is_rated_where_that_is_known():
    psi45 = Typed("45", "psi").value
    assert ranges_of("regulator", "static_pressure", rated={"output_pressure": psi45}) == [Range(psi45, psi45, "rated")]
    assert ranges_of("regulator", "static_pressure", rated={"rated_flow": 1.0}) == [
        usual_of("regulator", "static_pressure").range
    ]
    assert ranges_of("observation", "seen") == []


@pytest.mark.parametrize(("code", "place"), [(code, place) for code, places in USUAL.items() for place in places])
def test_nothing_within_the_usual_range_is_asked_about_without_history(code, place):
    usual = usual_of(code, *place)
    units = (usual.unit,) if usual.unit == "%" else DIMENSIONS[find_unit(usual.unit)[0].code].symbols
    linear = find_unit(usual.unit)[0].code == "temperature"
    for number in (usual.low, (usual.low + usual.high) / 2, usual.high):
        typed = Typed(figures(number, 3), usual.unit)
        ranges = ranges_of(code, *place)
        assert asked(typed, [], units, slot=(place[0], 0, place[1]), ranges=ranges, is_linear=linear) is None, number


@example(("358", "kPa"))
@given(st.tuples(st.sampled_from(["358", "45", "0.5", "7.25"]), st.sampled_from(UNITS["pressure"])))
def test_the_same_question_is_asked_of_the_same_reading(typed):
    earlier = pressures("358 kPa", "352 kPa")
    assert asked(Typed(*typed), earlier) == asked(Typed(*typed), earlier)
