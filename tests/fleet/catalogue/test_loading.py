"""A mistake in a catalogue file is reported with file, entry and what is accepted."""

import tomllib

import pytest
from pytest import mark

from fleet.catalogue import HAZARDS, CatalogueError
from fleet.catalogue.components import kind_from
from fleet.catalogue.features import features_from
from fleet.catalogue.gases import gas_from, pins_of
from fleet.catalogue.loading import by_code, tables_of

FEATURE = """
[[feature]]
code = "whistle"
name = "Whistle"
does = "Whistles."
hazards = ["hypoxic-mixture"]
class = "essential"
acts = "alarms"
needs = ["pipeline"]
fulfilled_by = []
since = ""
since_basis = ""
retrofit = true
retrofit_note = "Screw it on."
source = "common practice, no source"
edition = ""
basis = "common practice, no source"
"""
KIND = """
[[kind]]
code = "pipe"
name = "Pipe"
does = "Leads gas."
ports = ["inlet", "outlet"]
gas = "required"
rated = [{ key = "highest", label = "Highest pressure", dimension = "pressure", unit = "kPa" }]
evidences = []
source = "common practice, no source"
edition = ""
basis = "common practice, no source"
"""


def features(text):
    return features_from(tables_of(tomllib.loads(text), "features.toml", "feature"), HAZARDS)


def kinds(text):
    return by_code(tables_of(tomllib.loads(text), "components.toml", "kind"), kind_from)


def test_one_table_is_all_that_a_new_feature_takes():
    assert features(FEATURE)["whistle"].name == "Whistle"


@mark.parametrize(
    ("old", "new", "says"),
    [
        ('"hypoxic-mixture"', '"hypoxia"', r"hazards names 'hypoxia'; accepted: hypoxic-mixture"),
        ('class = "essential"', 'class = "vital"', r"class is 'vital'; accepted: essential, expected"),
        ('needs = ["pipeline"]', 'needs = ["hose"]', r"needs is 'hose'; accepted: nitrous-oxide"),
        ("fulfilled_by = []", 'fulfilled_by = ["bell"]', r"fulfilled_by names 'bell'; accepted: whistle"),
        ("retrofit = true", 'retrofit = "yes"', r"retrofit must be bool, not 'yes'"),
        ('does = "Whistles."', 'does = ""', r"does is empty"),
        ('does = "Whistles."', "", r"does is missing"),
        ('does = "Whistles."', 'does = "Whistles."\ndose = 1', r"unknown key dose\. Accepted: code"),
        ('basis = "common practice, no source"', 'basis = "sure"', r"basis is 'sure'; accepted: seen"),
    ],
)
def test_a_slip_in_a_feature_is_named(old, new, says):
    with pytest.raises(CatalogueError, match=rf"features.toml, entry 1 \(whistle\): {says}"):
        features(FEATURE.replace(old, new))


def test_a_code_given_twice_is_refused():
    with pytest.raises(CatalogueError, match=r"entry 2 \(whistle\): the code 'whistle' is used"):
        features(FEATURE + FEATURE)


def test_a_file_without_entries_is_refused():
    with pytest.raises(CatalogueError, match=r"features.toml has no \[\[feature\]\]"):
        features("")


@mark.parametrize(
    ("old", "new", "says"),
    [
        ('dimension = "pressure"', 'dimension = "luck"', r"dimension is 'luck'; accepted: pressure"),
        ('unit = "kPa"', 'unit = "L/min"', r"unit of highest is 'L/min'; accepted: kPa"),
        (', unit = "kPa"', "", r"rated must hold tables of key, label, dimension and unit"),
        ('gas = "required"', 'gas = "always"', r"gas is 'always'; accepted: required, optional, none"),
        ("evidences = []", 'evidences = ["hope"]', r"evidences names 'hope'; accepted: o2-failure-protection"),
    ],
)
def test_a_slip_in_a_component_kind_is_named(old, new, says):
    with pytest.raises(CatalogueError, match=rf"components.toml, entry 1 \(pipe\): {says}"):
        kinds(KIND.replace(old, new))


def test_a_rated_value_that_the_kind_lacks_is_refused_with_those_it_has():
    with pytest.raises(CatalogueError, match="Pipe has no rated value 'lowest'. Accepted: highest"):
        kinds(KIND)["pipe"].rated_value("lowest")


@mark.parametrize("pins", ["[]", "[2, 9]", '["2"]'])
def test_a_pin_that_no_yoke_has_is_refused(pins):
    entries = tables_of(tomllib.loads(f'[[gas]]\ncode = "x"\npins = {pins}'), "gases.toml", "gas")
    with pytest.raises(CatalogueError, match="accepted: positions 1 to 6"):
        pins_of(entries[0])
    with pytest.raises(CatalogueError, match="name is missing"):
        gas_from(entries[0])
