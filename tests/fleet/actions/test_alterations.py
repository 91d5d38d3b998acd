"""An alteration is carried out once on each machine: circuit, safety features, withdrawal and retest together."""

from datetime import timedelta
from decimal import Decimal

import pytest

from fleet.actions import (
    add_to_alteration,
    carry_out_alteration,
    leave_out_of_alteration,
    retire_machine,
    take_up_alteration_again,
    undo_circuit_change,
)
from fleet.actions.circuit_edit import circuit_version
from fleet.circuit.alterations import ALTERATIONS, altered
from fleet.circuit.digest import circuit_digest
from fleet.circuits.covers.sharing import shared_circuit
from fleet.circuits.machine_circuit import circuit_of
from fleet.errors import AlterationRefused, CircuitOvertaken, ComponentRefused
from fleet.models import AlterationOfMachine, AlterationPlan, CircuitChange, FeatureState
from inspections.at_bench.repeated_steps import touched_components
from inspections.deciding.release import must_be_settled, reasons_against_release
from inspections.models import Finding, Inspection
from tests.factories import NOON, TODAY, load_all_procedures, make_machine, make_model, make_person
from tests.fleet.altering.rows import LATER, make_alteration
from tests.fleet.circuit_texts import SMALL

pytestmark = pytest.mark.django_db


@pytest.fixture
def machine():
    return make_machine(model=make_model(circuit=SMALL))


@pytest.fixture
def row(machine):
    return make_alteration(machine).machines.get()


def carry_out(row, **fields):
    by = fields.pop("by", None) or make_person("technician")
    return carry_out_alteration(row, **{"done_on": TODAY, "evidence": "Order 7", "at": LATER, **fields}, by=by)


def test_carrying_out_makes_the_recorded_circuit_the_one_that_was_computed(row, machine):
    before = circuit_of(machine, TODAY)
    wanted = altered(before.circuit, ALTERATIONS["fit-outlet-check-valve"])
    done = carry_out(row)
    found = circuit_of(machine, TODAY)
    assert found.can_be_solved and set(found.circuit.connections) == set(wanted.connections)
    assert {each.code for each in found.circuit.components} == {each.code for each in wanted.components}
    assert done.change.verb == CircuitChange.Verb.ALTERED and done.state == "carried out"
    state = FeatureState.objects.on(TODAY).get(machine=machine, feature="outlet-check-valve")
    assert (state.state, state.evidence) == ("fitted", "retrofit")


@pytest.mark.parametrize("kind", ["nitrous-oxide-off", "agent-off", "fit-oxygen-analyser", "fit-supply-alarm"])
def test_the_recorded_circuit_has_the_components_that_were_computed(machine, kind):
    agent = "isoflurane" if kind == "agent-off" else ""
    row = make_alteration(machine, kind=kind, agent=agent).machines.get()
    carry_out(row)
    recorded = circuit_of(machine, TODAY)
    computed = altered(circuit_of(make_machine(model=machine.model), TODAY).circuit, ALTERATIONS[kind], agent)
    assert {(each.code, each.kind, each.label) for each in recorded.circuit.components} == {
        (each.code, each.kind, each.label) for each in computed.components
    }
    assert len(circuit_digest(shared_circuit(machine, recorded)[0])) == 64


def test_an_altered_machine_waits_for_a_retest_of_what_the_alteration_touched(machine):
    load_all_procedures()
    row = make_alteration(machine, from_date=TODAY - timedelta(days=9)).machines.get()
    carry_out(row, done_on=TODAY - timedelta(days=3))  # entered some days later
    machine.refresh_from_db()
    assert machine.status == "withdrawn"
    finding = Finding.objects.get(origin="altered")
    assert finding in must_be_settled(machine) and finding.is_essential
    retest = Inspection.objects.get(retests=finding)
    assert any("not a signed inspection" in reason for reason in reasons_against_release(machine, retest))
    assert "check-valve" in {each.kind for each in touched_components(machine, [finding], on=TODAY)}


def test_only_one_of_two_people_carries_it_out(row, machine):
    other = AlterationOfMachine.objects.get(pk=row.pk)
    carry_out(row)
    with pytest.raises(AlterationRefused, match="is carried out already, by"):
        carry_out(other)
    with pytest.raises(AlterationRefused, match="is carried out already"):
        leave_out_of_alteration(other, reason="Sold", by=make_person("planner"), at=LATER)
    assert CircuitChange.objects.filter(verb="altered").count() == 1


def test_nothing_is_saved_where_the_circuit_has_changed_since_the_page_was_opened(row, machine):
    seen = circuit_version(machine)
    carry_out(make_alteration(machine, kind="fit-oxygen-analyser").machines.get())
    with pytest.raises(CircuitOvertaken):
        carry_out(row, seen=seen)
    row.refresh_from_db()
    assert row.is_planned and Finding.objects.filter(origin="altered").count() == 1


def test_a_machine_whose_circuit_does_not_allow_it_is_refused_with_the_reason(machine):
    row = make_alteration(machine, kind="fit-exclusion").machines.get()
    with pytest.raises(AlterationRefused, match="fewer than two vaporizers"):
        carry_out(row)
    machine.refresh_from_db()
    assert machine.status == "in service" and not FeatureState.objects.filter(evidence="retrofit").exists()


def test_a_machine_without_a_circuit_changes_its_safety_feature_alone():
    row = make_alteration(make_machine()).machines.get()
    assert carry_out(row).change is None
    assert FeatureState.objects.on(TODAY).get(machine=row.machine, feature="outlet-check-valve").state == "fitted"


def test_evidence_date_and_status_are_required(row, machine):
    with pytest.raises(AlterationRefused, match="State the evidence"):
        carry_out(row, evidence=" ")
    with pytest.raises(AlterationRefused, match="is planned from 2026-11-02"):
        carry_out(row, done_on=TODAY - timedelta(days=1))
    with pytest.raises(ComponentRefused, match="outside the period"):
        carry_out(row, done_on=TODAY + timedelta(days=9))
    retire_machine(machine, reason="Old", by=make_person("manager"), at=NOON)
    with pytest.raises(AlterationRefused, match="is retired"):
        carry_out(row)


def test_the_change_of_the_circuit_can_be_undone_as_any_other(row, machine):
    before = circuit_of(machine, TODAY).circuit
    undo_circuit_change(carry_out(row).change, reason="Wrong machine", by=make_person("technician"), at=LATER)
    after = circuit_of(machine, TODAY).circuit
    assert set(after.connections) == set(before.connections)


def test_a_machine_left_out_is_planned_again(row):
    by = make_person("planner")
    with pytest.raises(AlterationRefused, match="State why"):
        leave_out_of_alteration(row, reason=" ", by=by, at=NOON)
    leave_out_of_alteration(row, reason="Is sold in May", by=by, at=NOON)
    with pytest.raises(AlterationRefused, match="left out already"):
        carry_out(row)
    assert take_up_alteration_again(row, by=by, at=LATER).is_planned
    with pytest.raises(AlterationRefused, match="not left out"):
        take_up_alteration_again(row, by=by, at=LATER)


def test_a_machine_is_in_a_plan_once_and_a_retired_one_never(row, machine):
    by, retired = make_person("planner"), make_machine()
    retire_machine(retired, reason="Old", by=make_person("manager"), at=NOON)
    retired.refresh_from_db()
    with pytest.raises(AlterationRefused, match="in the plan already, or is retired"):
        add_to_alteration(row.plan, [machine, retired], by=by, at=LATER)
    assert add_to_alteration(row.plan, [machine, make_machine()], by=by, at=LATER) == 1


def test_a_plan_needs_what_its_alteration_and_its_price_need(machine):
    for fields, said in (
        ({"kind": "agent-off"}, "names the agent"),
        ({"agent": "isoflurane"}, "names no agent"),
        ({"price_each": Decimal(900)}, "currency of the price"),
        ({"price_each": Decimal("1.005"), "currency": "EUR", "price_source": "Offer"}, "more digits"),
    ):
        with pytest.raises(Exception, match=said):
            make_alteration(machine, **fields)
    assert not AlterationPlan.objects.exists()
