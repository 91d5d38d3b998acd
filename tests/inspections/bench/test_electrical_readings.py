"""Electrical safety: what is stated or taken from a record, and what a limit says besides its figure."""

from math import inf

import pytest

from inspections.bench import TESTS, get_test
from inspections.bench.electrical_safety import watched
from inspections.bench.leakage_currents import applied_limit
from inspections.bench.uncertainty import RECTANGULAR, Estimate, Shaped
from tests.inspections.bench.making import context, evaluate, flow
from tests.inspections.bench.sound_sheets import earth

EARTH, LEAKAGE = "earth-and-insulation", "leakage-currents"


def test_the_voltage_of_an_insulation_test_is_stated_and_no_accuracy_of_it_is_assumed():
    found = get_test(EARTH).evaluate(earth(), context())
    assert any("insulation resistance" in one for one in found.assumed)
    assert not any("test voltage" in one.lower() for one in found.assumed)


@pytest.mark.parametrize("code", [EARTH, LEAKAGE])
def test_a_value_of_acceptance_is_taken_from_a_record_and_asks_for_no_instrument(code):
    kept = [one for one in TESTS[code].readings if one.key.endswith("_reference")]
    assert kept and not any(one.needs_instrument for one in kept)


def test_only_the_limit_of_a_type_b_part_says_that_it_is_usually_measured_with_the_case():
    assert "equipment leakage" in applied_limit("B").note
    assert (applied_limit("BF").note, applied_limit("CF").note) == ("", "")


def test_a_change_whose_uncertainty_is_rectangular_is_clear_beyond_its_own_factor():
    """By hand: u 22 mΩ; U is 1.65 u = 36 mΩ where rectangular (EA-4/02 S9, from memory), 2 u = 44 mΩ where normal."""
    result = evaluate(EARTH, earth(earth_total=flow(140, "mΩ"))).result("earth_total")
    for change, is_clear in ((Shaped(0.040, 0.022, inf, RECTANGULAR), True), (Estimate(0.040, 0.022), False)):
        assert ("Clearly above" in watched(result, 0.100, change).remark) == is_clear
