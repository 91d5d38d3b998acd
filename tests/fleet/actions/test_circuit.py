"""Changes of a machine's gas circuit: dated, with evidence, compared with what was shown, undone and still readable."""

from datetime import date, timedelta

import pytest

from fleet.actions import (
    copy_circuits,
    correct_machine,
    fit_component,
    join_ports,
    disconnect_ports,
    remove_component,
    replace_component,
    take_out_component,
    undo_circuit_change,
)
from fleet.actions.circuit_edit import circuit_version
from fleet.circuit.digest import circuit_digest
from fleet.circuit.structure import Port
from fleet.circuits.machine_circuit import AS_BUILT, circuit_of
from fleet.errors import CircuitOvertaken, ComponentRefused, RegisterRefused
from fleet.models import ChangeEntry, CircuitChange, Component, Connection
from tests.factories import NOON, TODAY, make_component, make_machine, make_model, make_person
from tests.fleet.circuit_texts import SMALL

LATER = NOON + timedelta(hours=1)
SPRING, SUMMER = date(2020, 4, 1), date(2020, 7, 1)
OUTLET = ("between", [(Port("vaporizer", "out"), Port("outlet", "in"), "in", "out")])


@pytest.fixture
def machine(db):
    return make_machine(model=make_model(circuit=SMALL))


@pytest.fixture
def by(db):
    return make_person("technician")


def insert_check_valve(machine, by=None, on=SPRING, **more):
    return fit_component(
        machine,
        kind="check-valve",
        label="Outlet check valve",
        fitted_on=on,
        options={"place": "outlet"},
        evidence="Work order 12",
        by=by,
        at=NOON,
        **dict([OUTLET]),
        **more,
    )


def connections_of(machine, day=TODAY):
    return {str(connection) for connection in circuit_of(machine, day).circuit.connections}


def replace_vaporizer(machine, on=SUMMER, **more):
    return replace_component(machine, "vaporizer", on=on, evidence="Note 3", serial="77", by=None, at=NOON, **more)


class TestFirstChange:
    def test_writes_the_circuit_of_the_model_down_from_the_first_day_on(self, machine):
        insert_check_valve(machine)
        copied = CircuitChange.objects.get(verb="copied")
        assert (copied.changed_on, copied.evidence) == (machine.in_use_from, AS_BUILT)
        assert Component.objects.filter(machine=machine, fitted_in=copied).count() == 9

    def test_leaves_the_circuit_before_it_as_the_model_was_built(self, machine):
        before = circuit_digest(circuit_of(machine, SPRING - timedelta(days=1)).circuit)
        insert_check_valve(machine)
        assert circuit_digest(circuit_of(machine, SPRING - timedelta(days=1)).circuit) == before
        assert "outlet-check-valve" in {component.code for component in circuit_of(machine, SPRING).circuit.components}

    def test_keeps_nothing_when_the_change_is_refused(self, machine):
        with pytest.raises(ComponentRefused, match="has no component “nothing”. Fitted components: battery"):
            replace_component(machine, "nothing", on=SUMMER, by=None, at=NOON)
        assert not Component.objects.exists() and not CircuitChange.objects.exists()

    def test_takes_in_the_plate_of_a_component_that_a_list_gave(self, machine):
        listed = make_component(machine, kind="vaporizer", label="Vaporizer", serial="V-1", rated={})
        insert_check_valve(machine)
        listed.refresh_from_db()
        assert (listed.code, listed.serial, listed.options) == ("vaporizer", "V-1", {"agent": "isoflurane"})
        assert Component.objects.filter(machine=machine, label="Vaporizer").count() == 1

    def test_puts_the_component_of_the_model_before_one_that_was_listed_from_a_later_day(self, machine):
        make_component(machine, kind="vaporizer", label="Vaporizer", serial="V-2", fitted_on=SPRING)
        copy_circuits([machine], by=None, at=NOON)
        early, late = circuit_of(machine, SPRING - timedelta(days=1)), circuit_of(machine, SPRING)
        assert early.components["vaporizer"].serial == "" and late.components["vaporizer"].serial == "V-2"
        assert connections_of(machine, SPRING - timedelta(days=1)) == connections_of(machine, SPRING)

    def test_refuses_a_listed_component_of_another_kind(self, machine):
        make_component(machine, kind="flow-control", label="Vaporizer", gas="oxygen")
        with pytest.raises(ComponentRefused, match="recorded .* as flow control.*Correct the record"):
            insert_check_valve(machine)


class TestFitting:
    def test_puts_a_component_between_two_others(self, machine):
        insert_check_valve(machine)
        connections = connections_of(machine)
        assert "vaporizer.out to outlet.in" not in connections
        assert {"vaporizer.out to outlet-check-valve.in", "outlet-check-valve.out to outlet.in"} <= connections

    def test_keeps_the_connector_of_the_connection_that_it_is_put_into(self, machine):
        insert_check_valve(machine)
        assert {connection.size for connection in Connection.objects.filter(removed_on=None, target__code="outlet")} == {"22 mm"}

    def test_joins_a_component_at_its_own_connections(self, machine):
        joins = {"in": Port("oxygen-inlet", "out")}
        fit_component(
            machine,
            kind="oxygen-alarm",
            label="Oxygen alarm",
            gas="oxygen",
            fitted_on=SPRING,
            joins=joins,
            by=None,
            at=NOON,
        )
        assert "oxygen-inlet.out to oxygen-alarm.in" in connections_of(machine)
        assert circuit_of(machine, TODAY).problems == ()

    def test_puts_in_a_component_that_carries_no_gas(self, machine):
        fit_component(machine, kind="outlet-lock", label="Lock", fitted_on=SPRING, joins={}, by=None, at=NOON)
        assert "lock" in {component.code for component in circuit_of(machine, TODAY).circuit.components}

    def test_of_a_component_by_itself_leaves_the_circuit_of_the_model(self, machine):
        fit_component(machine, kind="vaporizer", label="Vaporizer", fitted_on=SPRING, by=None, at=NOON)
        assert not circuit_of(machine, TODAY).is_own and Component.objects.get().code == "vaporizer"

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"joins": {"in": Port("outlet", "side")}}, "Outlet has no port “side”. Accepted: in, out"),
            ({"joins": {"in": Port("nowhere", "in")}}, "has no component “nowhere”"),
            ({"between": [(Port("outlet", "in"), Port("battery", "in"), "in", "out")]}, "has no port “in”"),
            ({"between": [(Port("outlet", "in"), Port("flow-bank", "in"), "in", "out")]}, "are not connected"),
            ({"joins": {}, "label": "Outlet"}, "has a component called “Outlet” from .* and is still fitted"),
            ({"joins": {}, "fitted_on": date(2014, 1, 1)}, "Enter a date from 2015-01-01 to 2026-11-02"),
            ({"joins": {}, "fitted_on": TODAY + timedelta(days=1)}, "outside the period that the register covers"),
        ],
    )
    def test_refuses_what_the_circuit_does_not_allow(self, machine, change, words):
        fields = {"kind": "check-valve", "label": "Check valve", "fitted_on": SPRING, "by": None, "at": NOON}
        with pytest.raises(ComponentRefused, match=words):
            fit_component(machine, **(fields | change))
        assert not Component.objects.exists() and not Connection.objects.exists()


class TestReplacing:
    def test_puts_the_new_component_where_the_old_one_was(self, machine):
        before = connections_of(machine)
        replace_vaporizer(machine)
        assert connections_of(machine) == before
        components = [circuit_of(machine, day).components["vaporizer"] for day in (SUMMER - timedelta(days=1), SUMMER)]
        assert [component.serial for component in components] == ["", "77"]

    def test_leaves_serial_lot_and_note_of_the_old_component_behind_and_keeps_its_values(self, machine):
        replace_vaporizer(machine)
        replace_component(machine, "vaporizer", on=TODAY, lot="L-9", by=None, at=NOON)
        new = circuit_of(machine, TODAY).components["vaporizer"]
        assert (new.serial, new.lot, new.rated) == ("", "L-9", {"highest_output": [5.0, "%"]})

    def test_by_a_kind_without_the_connections_in_use_is_refused(self, machine):
        with pytest.raises(ComponentRefused, match="no port “out”. Accepted: in"):
            replace_component(machine, "vaporizer", kind="gauge", on=SUMMER, by=None, at=NOON)

    def test_before_the_old_component_was_fitted_is_refused(self, machine):
        replace_vaporizer(machine)
        with pytest.raises(ComponentRefused, match="was fitted on 2020-07-01, after 2020-04-01"):
            replace_vaporizer(machine, on=SPRING)


class TestTakingOut:
    def take_out(self, machine, code, bridge):
        return take_out_component(machine, code, removed_on=SUMMER, bridge=bridge, by=None, at=NOON)

    def test_with_a_bridge_joins_what_led_to_it_and_from_it(self, machine):
        self.take_out(machine, "cut-off-valve", True)
        assert "nitrous-oxide-inlet.out to nitrous-oxide-control.in" in connections_of(machine)
        assert circuit_of(machine, TODAY).problems == ()

    def test_without_leaves_the_ends_open_and_the_circuit_says_so(self, machine):
        self.take_out(machine, "cut-off-valve", False)
        assert circuit_of(machine, TODAY).problems
        assert not any("nitrous-oxide-inlet" in connection for connection in connections_of(machine))

    def test_takes_every_pipe_of_a_tee_along(self, machine):
        """Oxygen, the bank's gas and the vaporizer meet at the bank's outlet; without the bank they stay connected."""
        self.take_out(machine, "flow-bank", True)
        connections = connections_of(machine)
        assert {"oxygen-control.out to vaporizer.in", "nitrous-oxide-control.out to vaporizer.in"} <= connections

    def test_of_a_component_without_gas_cannot_be_bridged(self, machine):
        with pytest.raises(ComponentRefused, match="has no two neighbours"):
            self.take_out(machine, "battery", True)
        self.take_out(machine, "battery", False)
        assert "battery" not in {component.code for component in circuit_of(machine, TODAY).circuit.components}


class TestConnections:
    def test_are_taken_apart_and_made_again(self, machine):
        ends = Port("vaporizer", "out"), Port("outlet", "in")
        disconnect_ports(machine, *ends, on=SPRING, evidence="Seen", by=None, at=NOON)
        assert "vaporizer.out to outlet.in" not in connections_of(machine)
        join_ports(machine, *ends, on=SUMMER, size="22 mm", evidence="Seen", by=None, at=NOON)
        assert "vaporizer.out to outlet.in" in connections_of(machine)
        assert "vaporizer.out to outlet.in" not in connections_of(machine, SUMMER - timedelta(days=1))

    def test_of_a_port_to_itself_or_twice_are_refused(self, machine):
        with pytest.raises(ComponentRefused, match="belong to the same component"):
            join_ports(machine, Port("vaporizer", "in"), Port("vaporizer", "out"), on=SPRING, by=None, at=NOON)
        with pytest.raises(ComponentRefused, match="are already connected"):
            join_ports(machine, Port("outlet", "in"), Port("vaporizer", "out"), on=SPRING, by=None, at=NOON)


class TestUndoing:
    def undo(self, verb="inserted", **more):
        change = CircuitChange.objects.get(verb=verb)
        return undo_circuit_change(change, reason="Wrong machine", by=None, at=LATER, **more)

    def test_leaves_the_circuit_of_every_day_as_if_it_had_not_been(self, machine):
        before = circuit_digest(circuit_of(machine, TODAY).circuit)
        insert_check_valve(machine)
        self.undo()
        assert {circuit_digest(circuit_of(machine, day).circuit) for day in (SPRING, SUMMER, TODAY)} == {before}

    def test_keeps_the_entry_readable_with_the_reason(self, machine, by):
        insert_check_valve(machine)
        change = self.undo()
        assert change.words.startswith("Outlet check valve inserted between Vaporizer (out) and Outlet (in)")
        assert (change.undone_reason, change.undone_at) == ("Wrong machine", LATER)

    def test_of_a_replacement_puts_the_old_component_back(self, machine):
        replace_vaporizer(machine)
        self.undo("replaced")
        assert circuit_of(machine, TODAY).components["vaporizer"].serial == ""
        assert circuit_of(machine, TODAY).problems == ()

    def test_twice_is_refused(self, machine):
        insert_check_valve(machine)
        change = self.undo()
        with pytest.raises(ComponentRefused, match="was already undone"):
            undo_circuit_change(change, reason="Again", by=None, at=LATER)

    def test_of_what_a_later_change_rests_on_is_refused_and_names_it(self, machine):
        insert_check_valve(machine)
        take_out_component(machine, "outlet-check-valve", removed_on=SUMMER, bridge=True, by=None, at=NOON)
        with pytest.raises(ComponentRefused, match="later change depends on it, “Outlet check valve removed"):
            self.undo()
        self.undo("removed")
        self.undo()
        assert "vaporizer.out to outlet.in" in connections_of(machine)

    def test_of_a_removal_whose_name_is_taken_again_is_refused(self, machine):
        insert_check_valve(machine)
        take_out_component(machine, "battery", removed_on=SPRING, bridge=False, by=None, at=NOON)
        fit_component(machine, kind="battery", label="Battery", fitted_on=SUMMER, joins={}, by=None, at=NOON)
        with pytest.raises(ComponentRefused, match="a component called “Battery” is fitted again"):
            self.undo("removed")

    def test_of_a_connection_whose_component_was_removed_later_is_refused_and_nothing_is_changed(self, machine):
        disconnect_ports(machine, Port("vaporizer", "out"), Port("outlet", "in"), on=SPRING, by=None, at=NOON)
        take_out_component(machine, "outlet", removed_on=SUMMER, bridge=False, by=None, at=NOON)
        with pytest.raises(ComponentRefused, match="Outlet was removed later"):
            self.undo("parted")
        assert CircuitChange.objects.get(verb="parted").undone_at is None

    def test_of_the_writing_down_is_refused(self, machine):
        insert_check_valve(machine)
        with pytest.raises(ComponentRefused, match="copy of the model's circuit"):
            self.undo("copied")


def test_connections_and_components_move_with_the_first_day_of_a_machine(machine):
    insert_check_valve(machine)
    before = connections_of(machine, machine.in_use_from)
    moved = correct_machine(machine, in_use_from=date(2012, 1, 1), by=None, at=LATER)
    assert connections_of(moved, date(2012, 1, 1)) == before
    with pytest.raises(RegisterRefused, match="recorded history before 2021-01-01"):
        correct_machine(machine, in_use_from=date(2021, 1, 1), by=None, at=LATER)


class TestTwoPeople:
    def test_a_change_of_a_circuit_that_another_changed_meanwhile_is_refused_and_says_who(self, machine, by):
        seen = circuit_version(machine)
        insert_check_valve(machine, by=by)
        with pytest.raises(CircuitOvertaken, match=f"Outlet check valve inserted.*{by}.*Nothing was saved"):
            replace_vaporizer(machine, seen=seen)
        replace_vaporizer(machine, seen=circuit_version(machine))

    def test_an_undone_change_counts_as_a_change(self, machine):
        insert_check_valve(machine)
        seen = circuit_version(machine)
        TestUndoing().undo(seen=seen)
        with pytest.raises(CircuitOvertaken):
            replace_vaporizer(machine, seen=seen)


def test_a_component_of_a_list_that_is_removed_leaves_a_change_with_its_evidence(machine, by):
    component = make_component(machine)
    remove_component(component, removed_on=SUMMER, evidence="Note 4", by=by, at=NOON)
    change = CircuitChange.objects.get()
    assert (change.verb, change.evidence, change.by) == ("removed", "Note 4", by)


def test_every_new_and_removed_component_and_the_change_itself_leave_entries(machine, by):
    replace_component(machine, "vaporizer", on=SUMMER, evidence="Note 3", serial="77", by=by, at=LATER)
    told = ChangeEntry.objects.filter(by=by, at=LATER)
    assert told.filter(row="fleet.component").count() == 9 + 2  # the circuit written down; one removed, one fitted
    assert told.filter(row="fleet.circuitchange").count() == 2  # that, and the replacement
