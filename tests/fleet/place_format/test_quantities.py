"""Quantities in the units that a place prefers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.catalogue.dimensions import DIMENSIONS, find_unit
from fleet.place_format import (
    NEUTRAL,
    PlaceFormat,
    choice_of,
    converted,
    quantities_in_words,
    quantity_text,
    rounded_quantity,
    shown_unit,
    unit_choice_problem,
    unit_choices,
)

AMERICAN = PlaceFormat(units=(("pressure", "psi"), ("temperature", "°F")))
COMMA = PlaceFormat(decimal=",")
PAIRS = [(one, other) for choice in unit_choices() for one in choice.symbols for other in choice.symbols]


@given(pair=st.sampled_from(PAIRS), value=st.floats(-1e4, 1e4).filter(lambda value: abs(value) > 1e-3))
def test_a_quantity_there_and_back_is_the_same(pair, value):
    own, other = (find_unit(symbol)[1] for symbol in pair)
    assert converted(converted(value, own, other), other, own) == pytest.approx(value, rel=1e-9, abs=1e-9)


@given(pair=st.sampled_from(PAIRS))
def test_every_unit_of_a_dimension_can_be_preferred_and_is_then_shown(pair):
    chosen = {choice_of(pair[0]): pair[1]}
    assert unit_choice_problem(chosen) == ""
    assert shown_unit(pair[0], PlaceFormat(units=tuple(chosen.items()))) == pair[1]


def test_what_nobody_chose_keeps_its_unit_and_digits():
    assert [quantity_text(45, "psi", NEUTRAL), quantity_text(2.5, "bar", COMMA)] == ["45 psi", "2,5 bar"]


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [  # 1 psi = 6.894757 kPa (NIST SP 811, table B.8); °F = 1.8 °C + 32
        (400, "kPa", "58.0 psi"), (2.5, "bar", "36.3 psi"), (137.5, "kPa", "19.94 psi"), (20, "°C", "68.0 °F"),
        (0, "kPa", "0 psi"),
    ],
)  # fmt: skip
def test_a_converted_quantity_has_as_many_figures_as_it_had_and_three_at_least(value, unit, shown):
    assert quantity_text(value, unit, AMERICAN) == shown


def test_a_rounded_quantity_keeps_its_step_in_another_unit():
    # 0.1 kPa is 0.0145 psi, so two decimals
    assert rounded_quantity(101.325, "kPa", 1, AMERICAN) == "14.70 psi"


def test_a_unit_made_of_others_follows_the_unit_of_pressure():
    assert [shown_unit(unit, AMERICAN) for unit in ("kPa per L/min", "kPa/min")] == ["psi per L/min", "psi/min"]


def test_a_pressure_of_the_airway_keeps_its_own_unit_where_supplies_are_in_psi():
    assert [shown_unit(unit, AMERICAN) for unit in ("kPa", "bar", "cmH2O", "mmHg")] == ["psi", "psi", "cmH2O", "mmHg"]
    place = PlaceFormat(units=(("airway pressure", "mbar"), ("pressure", "kPa")))
    assert [shown_unit(unit, place) for unit in ("psi", "cmH2O")] == ["kPa", "mbar"]


@pytest.mark.parametrize("units", [{"pressure": "L/min"}, {"warmth": "psi"}, {"fraction": ""}, ["psi"], "psi", None])
def test_a_unit_of_another_dimension_cannot_be_preferred(units):
    assert unit_choice_problem(units)


@given(symbol=st.sampled_from(sorted({unit.symbol for one in DIMENSIONS.values() for unit in one.units})))
def test_numbers_before_a_unit_get_the_sign_of_the_place_and_those_of_clauses_do_not(symbol):
    sentence = f"Read at 3.14 {symbol}; ISO 5360:2016, 4.3.1 and clause 4.3, version 2.0."
    assert quantities_in_words(sentence, COMMA) == sentence.replace("3.14", "3,14")
    assert quantities_in_words(sentence, NEUTRAL) == sentence
