"""What holds for every kind of component: a class for each, honest ports, sources, and plumbing in every condition."""

import subprocess
import sys

import pytest

from fleet.catalogue import COMPONENT_KINDS, FEATURES
from fleet.circuit.elements import ELEMENTS, element_for
from fleet.circuit.elements.base import DISPOSAL, ROOM, STORE, Condition
from fleet.circuit.gases import Mix
from fleet.circuit.state import Likelihood
from fleet.circuit.structure import Component
from fleet.circuit.units import SI_UNITS

KINDS = sorted(ELEMENTS)
INNER = {
    "flow-bank": {"middle"},
    "flowmeter": {"crack"},
    "patient-connection": {"inspired"},
    "scavenging-interface": {"chamber"},
}
# Features that a component is evidence of, though it acts on no gas, or is what should not be there.
WITHOUT_ACTION = {"yoke-filter", "main-switch", "measured-flow-vaporizer"}


def conditions(cls):
    for failure in ("", *cls.failures):
        for is_removed in (False, True):
            for settings in ({}, {key: 1e-4 for key, value in cls.settings.items() if isinstance(value, int | float)}):
                yield Condition(settings, failure, is_removed)


def components(cls):
    """One part of each option."""
    gas = "oxygen" if COMPONENT_KINDS[cls.kind].needs_gas else ""
    yield Component("component", cls.kind, "Component", gas)
    for key, words in cls.options.items():
        for word in words:
            yield Component("component", cls.kind, "Component", gas, options={key: word})


def plumbings(cls):
    for component in components(cls):
        for condition in conditions(cls):
            yield element_for(component, condition).plumbing()


def test_every_kind_of_the_catalogue_has_its_class_and_every_class_its_kind():
    assert set(ELEMENTS) == set(COMPONENT_KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_gas_passes_only_ports_that_the_kind_has(kind):
    known = set(COMPONENT_KINDS[kind].ports) | INNER.get(kind, set())
    for plumbing in plumbings(ELEMENTS[kind]):
        ends = [end for branch in plumbing.branches for end in (branch.a, branch.b, *branch.pilots)]
        ends += [boundary.port for boundary in plumbing.boundaries]
        assert {end.name for end in ends if end not in (ROOM, DISPOSAL, STORE)} <= known
        names = [branch.name for branch in plumbing.branches]
        assert len(set(names)) == len(names) and all(name and name == name.lower() for name in names)


@pytest.mark.parametrize("kind", KINDS)
def test_ports_that_may_stay_unjoined_are_ports(kind):
    assert ELEMENTS[kind].unjoined <= set(COMPONENT_KINDS[kind].ports)


@pytest.mark.parametrize("kind", KINDS)
def test_every_law_answers_in_every_condition_with_a_slope_for_each_pilot(kind):
    mix = Mix.supply("oxygen")
    for plumbing in plumbings(ELEMENTS[kind]):
        for branch in plumbing.branches:
            for a, b in ((4e5, 1e5), (1e5, 4e5), (101_325.0, 101_325.0)):
                flow = branch.law.flow(a, b, mix, mix, (4e5, 3.9e5)[: len(branch.pilots)])
                assert flow.by_a >= 0 >= flow.by_b
                assert len(flow.by_pilots) == len(branch.pilots)


@pytest.mark.parametrize("kind", KINDS)
def test_defaults_name_their_dimension_and_their_source(kind):
    rated = {value.key: value.dimension for value in COMPONENT_KINDS[kind].rated}
    for key, value in ELEMENTS[kind].values.items():
        assert value.dimension in SI_UNITS
        assert value.dimension == rated.get(key, value.dimension)
        assert value.source
        assert value.basis in ("seen", "from memory", "computed", "common practice, no source")


@pytest.mark.parametrize("kind", KINDS)
def test_failures_say_how_often_and_what_happens(kind):
    for failure in ELEMENTS[kind].failures.values():
        assert isinstance(failure.likelihood, Likelihood)
        assert len(failure.words.split()) >= 3


@pytest.mark.parametrize("kind", KINDS)
def test_a_component_does_the_work_of_the_features_that_it_is_evidence_of(kind):
    component = next(components(ELEMENTS[kind]))
    protects = set(element_for(component, Condition()).protects)
    assert protects <= set(FEATURES)
    assert set(COMPONENT_KINDS[kind].evidences) - WITHOUT_ACTION <= protects


@pytest.mark.parametrize("kind", KINDS)
def test_a_failed_component_is_not_the_same_as_a_sound_one(kind):
    cls = ELEMENTS[kind]
    for mode in cls.failures:
        if mode in {"silent", "stuck", "broken"} or (kind, mode) in ON_TELLING:
            continue
        assert any(
            repr(element_for(component, Condition(settings, mode)).plumbing())
            != repr(element_for(component, Condition(settings)).plumbing())
            for component in components(cls)
            for settings in all_on(cls)
        ), mode


# Failures of what is not the component's own branches: what it tells, absorbs or supplies, or how it is read.
ON_TELLING = {
    ("oxygen-alarm", "drifted low"),
    ("oxygen-analyser", "drifted high"),
    ("gas-monitor", "reads low"),
    ("ratio-link", "drifted low"),
    ("absorber", "exhausted"),
    ("flowmeter", "float stuck"),
    ("battery", "spent"),
    ("mains-supply", "earth broken"),
}


def all_on(cls):
    """Settings with nothing on, with all of it a little on, with all of it far on, and a valve set high."""
    numbers = [key for key, value in cls.settings.items() if isinstance(value, int | float)]
    return {}, dict.fromkeys(numbers, 1e-4), dict.fromkeys(numbers, 0.5), {"set_pressure": 1e3}


@pytest.mark.parametrize("module", ["laws", "elements", "elements.base", "cylinders", "solution", "flow"])
def test_every_module_can_be_the_first_to_be_imported(module):
    found = subprocess.run([sys.executable, "-c", f"import fleet.circuit.{module}"], capture_output=True, text=True)
    assert found.returncode == 0, found.stderr
