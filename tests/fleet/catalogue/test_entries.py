"""The catalogue agrees with the published sources."""

import pytest
from CoolProp.CoolProp import PropsSI
from pytest import approx, mark

from fleet.catalogue import (
    COMPONENT_KINDS,
    FEATURES,
    GASES,
    HAZARDS,
    Equipment,
    FeatureClass,
    UnknownComponentKind,
    UnknownFeature,
    UnknownGas,
    UnknownHazard,
    absent_needs,
    get_component_kind,
    get_feature,
    get_gas,
    get_hazard,
)

FIRST_SET = [
    "o2-failure-protection",
    "o2-supply-alarm",
    "ratio-protection",
    "o2-last",
    "o2-control-profile",
    "single-control",
    "control-guard",
    "pin-index",
    "pipeline-gas-specific",
    "yoke-check-valve",
    "pipeline-check-valve",
    "front-gauges",
    "flush-guard",
    "vaporizer-exclusion",
    "keyed-filler",
    "dial-anticlockwise",
    "outlet-check-valve",
    "outlet-retention",
    "breathing-connectors",
    "scavenging-30mm",
    "scavenging-relief",
    "airway-pressure-alarm",
    "low-pressure-alarm",
    "o2-analyser",
    "apl-excluded",
    "bag-vent-selector",
    "battery-reserve",
    "electronic-mixing",
    "measured-flow-vaporizer",
    "scavenging-breathing-size",
]


def test_every_safety_feature_of_the_first_set_is_there():
    assert set(FIRST_SET) <= set(FEATURES)


def test_two_things_are_unwanted():
    unwanted = {code for code, feature in FEATURES.items() if feature.is_unwanted}
    assert unwanted == {"measured-flow-vaporizer", "scavenging-breathing-size"}


def test_there_are_fourteen_hazards_and_each_is_covered_or_opened_by_some_feature():
    assert len(HAZARDS) == 14
    assert {code for feature in FEATURES.values() for code in feature.hazards} == set(HAZARDS)


def test_every_protection_says_what_it_does_not_do():
    limits = ("not", "no ", "nothing", "nobody", "never", "only", "coarse", "friction", "leaves", "slip", "needs power")
    silent = [code for code, feature in FEATURES.items() if not any(word in feature.does for word in limits)]
    assert silent == []


def test_ratio_protection_matters_only_where_nitrous_oxide_can_be_given():
    # Source: ASA 2004 obsolescence guideline, from memory: "on a machine that can give N2O"
    ratio = get_feature("ratio-protection")
    assert absent_needs(ratio, Equipment(gases=frozenset({"oxygen", "air"})))
    assert not absent_needs(ratio, Equipment(gases=frozenset({"oxygen", "nitrous-oxide"})))


def test_exclusion_matters_only_with_two_vaporizer_positions():
    exclusion = get_feature("vaporizer-exclusion")
    assert absent_needs(exclusion, Equipment(vaporizer_positions=1))
    assert not absent_needs(exclusion, Equipment(vaporizer_positions=2))


def test_what_is_not_known_of_a_machine_hides_no_gap():
    assert all(absent_needs(feature, Equipment()) == () for feature in FEATURES.values())


@mark.parametrize(
    ("code", "pins", "diss"),
    [  # Source: StatPearls, Gas Cylinders (pins, seen); DISS: O2 and N2O seen, the rest CGA V-5 from memory
        ("oxygen", (2, 5), "1240"),
        ("nitrous-oxide", (3, 5), "1040"),
        ("air", (1, 5), "1160"),
        ("nitrogen", (1, 4), "1120"),
        ("carbon-dioxide", (1, 6), "1080"),
        ("helium", (4, 6), "1060"),
    ],
)
def test_pins_and_pipeline_fittings_match_the_published_lists(code, pins, diss):
    assert (get_gas(code).pins, get_gas(code).diss) == (pins, diss)


def test_no_two_gases_share_pins():
    assert len({gas.pins for gas in GASES.values()}) == len(GASES)


COOLPROP_NAMES = {
    "oxygen": "Oxygen",
    "nitrous-oxide": "NitrousOxide",
    "air": "Air",
    "nitrogen": "Nitrogen",
    "carbon-dioxide": "CarbonDioxide",
    "helium": "Helium",
}


@mark.parametrize(("code", "name"), COOLPROP_NAMES.items())
def test_density_and_molar_mass_agree_with_the_property_library(code, name):
    # Source: CoolProp at 20 C and 101.325 kPa; within 0.1 %
    gas = get_gas(code)
    assert gas.density_kg_m3 == approx(PropsSI("D", "T", 293.15, "P", 101_325, name), rel=1e-3)
    assert gas.molar_mass_kg_mol == approx(PropsSI("M", name), rel=1e-3)


def test_a_regulator_must_say_its_gas_and_a_bar_has_none():
    assert get_component_kind("pressure-regulator").needs_gas
    assert not get_component_kind("exclusion-bar").needs_gas


def test_essential_protections_include_all_that_the_published_absolute_criteria_name():
    # Source: ASA 2004 obsolescence guideline, absolute criteria (groups seen, items from memory)
    named = ["ratio-protection", "o2-failure-protection", "o2-supply-alarm", "vaporizer-exclusion", "pin-index"]
    named += ["pipeline-gas-specific", "single-control", "dial-anticlockwise"]
    assert {FEATURES[code].feature_class for code in named} == {FeatureClass.ESSENTIAL}


@mark.parametrize(
    ("get", "error", "offered"),
    [
        (get_feature, UnknownFeature, FEATURES),
        (get_hazard, UnknownHazard, HAZARDS),
        (get_gas, UnknownGas, GASES),
        (get_component_kind, UnknownComponentKind, COMPONENT_KINDS),
    ],
)
def test_an_unknown_code_is_refused_with_the_codes_there_are(get, error, offered):
    with pytest.raises(error, match="'nonsense'") as caught:
        get("nonsense")
    assert all(code in str(caught.value) for code in offered)
