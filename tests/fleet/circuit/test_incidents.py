"""Every kind of component has the failures that published incidents name, each posed on every machine that has it."""

import pytest
from hypothesis import given, settings

from fleet.catalogue import COMPONENT_KINDS, FEATURES, HAZARDS
from fleet.circuit.causes import causes_of
from fleet.circuit.cover_rows import Status
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.incidents import CAUSE, FAILURE, INCIDENTS, NOT_JUDGED, rows_not_judged
from fleet.circuit.usual_states import ordinary_state
from tests.fleet.circuit.demo_machines import NAMES, machine
from tests.fleet.circuit.random_circuits import machines


def posed(circuit):
    """Check that each failure of each component is a cause, or a row that is not judged."""
    causes = causes_of(circuit)
    rows = list(rows_not_judged(circuit, ordinary_state(circuit)))
    for incident in INCIDENTS:
        for component in circuit.of_kind(incident.kind):
            if incident.posed == NOT_JUDGED:
                found = [row for row in rows if component.label in row.cause.title and incident.what in row.cause.title]
                assert {row.hazard for row in found} == set(incident.hazards)
            else:
                assert any(incident.is_posed_by(component, cause) for cause in causes), (component.code, incident.what)


@pytest.mark.parametrize("kind", COMPONENT_KINDS)
def test_every_kind_has_the_failures_that_it_is_known_for(kind):
    known = [incident for incident in INCIDENTS if incident.kind == kind]
    assert known
    assert {incident.mode for incident in known if incident.posed == FAILURE} == set(ELEMENTS[kind].failures)
    assert all(incident.source.title for incident in known)


@pytest.mark.parametrize("name", NAMES)
def test_every_failure_is_posed_on_every_machine_that_has_the_component(name):
    posed(machine(name))


@settings(max_examples=40, deadline=None)
@given(machines())
def test_every_failure_is_posed_on_any_machine(made):
    posed(made[0])


def test_what_needs_tides_says_so_and_names_no_figure():
    rows = list(rows_not_judged(machine("ostler-octavo"), ordinary_state(machine("ostler-octavo"))))
    assert {"hypoventilation", "barotrauma", "agent-overdose"} <= {row.hazard for row in rows} <= set(HAZARDS)
    assert all(row.status is Status.NOT_JUDGED and row.figures is None and row.steps[-1] for row in rows)


@pytest.mark.parametrize("name", NAMES)
def test_nothing_that_only_alarms_or_tells_prevents_a_cause(name):
    for cause in causes_of(machine(name)):
        assert all(FEATURES[code].can_stop for code in cause.prevented_by)
        assert not any(FEATURES[code].can_stop for code in cause.noticed_by)


def test_a_cause_that_is_named_by_a_pattern_is_one_of_its_own_component():
    ostler = machine("ostler-octavo")
    by_cause = [incident for incident in INCIDENTS if incident.posed == CAUSE and incident.kind == "ventilator"]
    causes = [cause for cause in causes_of(ostler) if by_cause[0].is_posed_by(ostler.component("ventilator"), cause)]
    assert [cause.code for cause in causes] == ["ventilator-not-started"]
