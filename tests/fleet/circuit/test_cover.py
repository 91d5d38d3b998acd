"""The cover table: what each cause leads to, what stops it, what tells of it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.catalogue import FEATURES, HAZARDS
from fleet.circuit import resting
from fleet.circuit import solved_states as bench_module
from fleet.circuit.causes import causes_of, pair_of, pairs_of
from fleet.circuit.cover import CoverSheet, cover_table
from fleet.circuit.cover_rows import Status
from fleet.circuit.cover_text import table_data, table_text
from fleet.circuit.digest import circuit_digest
from fleet.circuit.solution import NoSolution
from fleet.circuit.state import Likelihood
from fleet.circuit.usual_states import ordinary_state
from tests.fleet.circuit.demo_machines import (
    NEWEST,
    OLDEST,
    OXYGEN_SHUT,
    cause,
    causes_by_code,
    machine,
    rows,
    sheet,
    unfitted,
)
from tests.fleet.circuit.random_circuits import machines

SOME = ("oxygen-inlet-lost", OXYGEN_SHUT, "flush-valve-held", "two-dials-vaporizer-1-vaporizer-2", "dial-off")


@pytest.fixture(scope="module")
def table():
    return cover_table(machine(), causes=[cause(code) for code in SOME])


def test_rows_stand_by_hazard_and_the_open_ones_first(table):
    hazards = [row.hazard for row in table.rows]
    assert hazards == sorted(hazards, key=list(dict.fromkeys(hazards)).index)
    for hazard in set(hazards):
        order = [(bool(row.cause.latent), list(Status).index(row.status)) for row in table.rows if row.hazard == hazard]
        assert order == sorted(order)
    assert table.open_hazards == tuple(dict.fromkeys(row.hazard for row in table.open_rows))


def test_a_table_knows_its_circuit_and_how_many_causes_were_asked(table):
    assert (table.circuit, table.digest, table.causes) == ("Norrfell Three", circuit_digest(machine()), len(SOME))


def test_progress_is_told_after_every_cause():
    told = []
    cover_table(machine(), causes=[cause(code) for code in SOME[:3]], progress=lambda *so_far: told.append(so_far))
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_ordinary_use_of_the_oldest_machine_rests_on_its_scavenging_relief():
    found = rows("ordinary-use")
    assert {"barotrauma", "no-fresh-gas", "theatre-pollution"} <= found.keys()
    assert {row.status for row in found.values()} == {Status.STOPPED}
    assert {row.stopped_by for row in found.values()} == {("scavenging-relief",)}


def test_what_a_way_of_use_leads_to_is_not_said_again_of_every_fault_in_it():
    assert "cylinder-emptied" in rows("oxygen-yoke-in-use")
    assert "cylinder-emptied" not in rows("oxygen-cylinder-gauge-stuck-in-use")


def test_steps_lead_from_the_supply_to_the_patient(table):
    row = next(row for row in table.rows if row.hazard == "hypoxic-mixture" and row.cause.code == "oxygen-inlet-lost")
    said = "\n".join(row.steps)
    places = [
        said.index(words)
        for words in (
            "Oxygen pipeline supply fails.",
            "Oxygen pipeline inlet: no supply from the wall",
            "Nitrous oxide cut-off valve: its oxygen pressure is 0 kPa (0 psi), below the 172 kPa (25 psi) at which",
            "Nitrous oxide flow control: no flow, 4 L/min before.",
            "Common gas outlet: no gas leaves.",
            "Stopped by oxygen supply-failure protection.",
            "Without any safety feature: the patient breathes no oxygen, vapour not counted, less than 20.9 %.",
        )
    ]
    assert places == sorted(places)


def test_an_open_row_says_so_and_a_told_one_says_what_is_heard():
    assert rows(OXYGEN_SHUT)["hypoxic-mixture"].steps[-1] == "Nothing on the machine stops it or sounds an alarm."
    steps = rows("oxygen-inlet-carries-nitrous-oxide", NEWEST)["hypoxic-mixture"].steps
    assert any(step.startswith("Oxygen analyser alarms") for step in steps)


def test_an_alarmed_hazard_is_printed_as_alarmed_and_stored_as_told():
    table = cover_table(machine(NEWEST), causes=[cause("oxygen-inlet-carries-nitrous-oxide", NEWEST)])
    assert {row.status for row in table.rows if row.told_by} == {Status.TOLD}
    text = table_text(table)
    assert "  ALARMED " in text and "alarmed by oxygen analyser with alarm" in text and "told" not in text.lower()
    assert {row["status"] for row in table_data(table)["rows"] if row["told_by"]} == {"told"}


def test_an_overdose_on_a_machine_with_an_agent_monitor_is_alarmed():
    row = rows("dial-at-its-highest", NEWEST)["agent-overdose"]
    assert (row.status, row.told_by) == (Status.TOLD, ("agent-monitor",))
    assert rows("dial-at-its-highest")["agent-overdose"].status is Status.OPEN  # no monitor


def test_figures_are_what_reaches_the_patient_here_and_unprotected():
    row = rows("oxygen-inlet-low")["hypoxic-mixture"]
    assert row.figures.oxygen > 0.9 > 0.2 > row.without.oxygen
    assert row.figures.airway_pa_gauge > 0


def test_what_is_prevented_leaves_the_figures_of_ordinary_use():
    row = rows("oxygen-inlet-hose-of-air")["hypoxic-mixture"]
    assert row.status is Status.STOPPED and row.figures.oxygen == pytest.approx(0.33, abs=0.01)
    assert row.without.oxygen < 0.1 and "prevented by gas-specific pipeline inlets" in row.steps[1]


def test_prevention_goes_with_its_fitting():
    bare = CoverSheet(unfitted(machine(), "pipeline-gas-specific"))
    found = {row.hazard: row for row in bare.rows(cause("oxygen-inlet-hose-of-air"))}
    assert found["hypoxic-mixture"].status is Status.OPEN


def test_each_of_two_protections_that_stop_it_alone_is_named():
    row = rows("oxygen-inlet-lost", "castrine-1")["hypoxic-mixture"]
    assert (row.stopped_by, row.together) == (("o2-failure-protection", "ratio-protection"), False)


def test_two_that_stop_it_only_together_are_named_as_such():
    row = rows("oxygen-yoke-2-bare", NEWEST)["cylinder-emptied"]
    assert (row.stopped_by, row.together) == (("pipeline-check-valve", "yoke-check-valve"), True)
    assert any("together, not by any of them alone" in step for step in row.steps)


def test_a_valve_of_the_machine_that_has_failed_is_found_in_pairs():
    single = rows("nitrous-oxide-cut-off-valve-stuck-open")
    assert "hypoxic-mixture" not in single  # silent until oxygen fails
    pair = pair_of(
        cause("nitrous-oxide-cut-off-valve-stuck-open"), cause("oxygen-inlet-lost"), ordinary_state(machine())
    )
    found = {row.hazard: row for row in sheet().rows(pair)}
    assert found["hypoxic-mixture"].status is Status.OPEN


def test_an_alarm_that_sounds_in_ordinary_use_tells_of_nothing():
    circuit = machine(OLDEST, "o2-analyser")
    component = replace(circuit.component("added-oxygen-analyser"), values={"alarm_low": 0.99})
    shrill = replace(circuit, components=(*(p for p in circuit.components if p.code != component.code), component))
    found = {row.hazard: row for row in CoverSheet(shrill).rows(cause(OXYGEN_SHUT))}
    assert found["hypoxic-mixture"].status is Status.OPEN


def test_a_cause_without_solution_is_listed_with_its_reason(monkeypatch):
    real = bench_module.solve_together

    def refuses(asked):
        refused = NoSolution("nothing balances at flush-valve.out")
        return [
            [
                refused if each.state.of("flush-valve").get("pressed") else found
                for each, found in zip(states, solved, strict=True)
            ]
            for (_, states), solved in zip(asked, real(asked), strict=True)
        ]

    monkeypatch.setattr(bench_module, "solve_together", refuses)
    found = cover_table(machine(), causes=[cause("flush-valve-held"), cause("dial-off")])
    assert [(each.cause.code, each.reason) for each in found.unsolved] == [
        ("flush-valve-held", "nothing balances at flush-valve.out")
    ]
    assert {row.cause.code for row in found.rows} == {"dial-off"}


def test_flows_out_of_balance_are_no_answer(monkeypatch):
    monkeypatch.setattr(resting, "imbalance", lambda mixing, *given: np.full(mixing.count, 0.01))
    with pytest.raises(NoSolution, match="do not balance"):
        CoverSheet(machine())


def test_a_table_of_pairs_has_rows_of_pairs():
    pairs = pairs_of(machine(), Likelihood.COMMON)[:6]
    found = cover_table(machine(), causes=pairs)
    assert found.causes == 6 and all(len(row.cause.components_of) == 2 for row in found.rows)


def test_order_of_components_and_connections_makes_no_difference():
    circuit = machine()
    other = replace(circuit, components=circuit.components[::-1], connections=circuit.connections[::-1])
    chosen = [cause("oxygen-inlet-lost"), cause("two-dials-vaporizer-1-vaporizer-2")]
    one, two = cover_table(circuit, causes=chosen), cover_table(other, causes=chosen)
    assert one.digest == two.digest
    assert [(row.hazard, row.status, row.stopped_by, row.steps) for row in one.rows] == [
        (row.hazard, row.status, row.stopped_by, row.steps) for row in two.rows
    ]


MACHINES = (OLDEST, "norrfell-3s", "castrine-1", NEWEST)


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_removing_a_protection_never_closes_a_hazard(data):
    name = data.draw(st.sampled_from(MACHINES))
    made = sheet(name)
    code = data.draw(st.sampled_from(sorted(causes_by_code(name))))
    fewer = data.draw(st.sampled_from(made.protections.acting))
    each = cause(code, name)
    with_it = made.bench.look(each.state, each.faults).hazards
    without = made.bench.look(each.state, each.faults, {fewer}).hazards
    assert set(with_it) - set(without) <= by_its_absence(made, each, fewer)
    assert set(made.open_hazards(each)) <= set(made.open_hazards(each, {fewer}))


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_removing_every_protection_closes_no_hazard_either(data):
    name = data.draw(st.sampled_from(MACHINES))
    made = sheet(name)
    each = cause(data.draw(st.sampled_from(sorted(causes_by_code(name)))), name)
    assert set(made.open_hazards(each)) <= set(made.open_hazards(each, made.all))


def by_its_absence(made, each, fewer):
    """Return the hazards that a circuit without a protection may not show though it shows them with it.

    A regulator that runs away or creeps blows back through a missing check valve; behind a way out that is blocked
    two equal supplies stand against each other, and the opening pressure of a valve in one of them lets the other in;
    air that nothing cuts off brings oxygen and fills the bag; a leak in the bank loses oxygen instead of nitrous
    oxide where oxygen is not last; an outlet check valve takes a little pressure to open, which drives more oxygen
    out of a cracked tube; and without a relief of the waste gas the breathing system is under pressure or suction, so
    that it is not open to the room and leaks the other way.
    """
    modes = {fault.mode for fault in each.faults}
    cuts_air = any(component.gas == "air" for component in made.circuit.of_kind("supply-failure-valve"))
    if fewer in ("scavenging-relief", "outlet-relief"):
        return {"hypoventilation", "hypoxic-mixture", "theatre-pollution"}
    if fewer == "outlet-check-valve" and "leaking" in modes:
        return {"hypoxic-mixture"}
    if fewer == "o2-last":
        return {"theatre-pollution"}
    if fewer.endswith("check-valve") and modes & {"stuck open", "creeping", "blocked", "stuck shut"}:
        return set(HAZARDS)
    fills = {"no-fresh-gas", "awareness", "hypoventilation"}
    return fills if fewer == "o2-failure-protection" and cuts_air else set()


@settings(max_examples=20, deadline=None)
@given(drawn=machines(), data=st.data())
def test_on_any_machine_removing_a_protection_never_closes_a_hazard(drawn, data):
    made = CoverSheet(drawn[0])
    each = data.draw(st.sampled_from(causes_of(made.circuit)))
    with_it = set(made.hazards(each))
    for fewer in made.protections.acting:
        assert with_it <= set(made.hazards(each, {fewer}))
        looked = made.bench.look(each.state, each.faults, {fewer}).hazards
        assert with_it - set(looked) <= by_its_absence(made, each, fewer)


@settings(max_examples=15, deadline=None)
@given(data=st.data())
def test_taking_a_fitting_off_opens_and_never_closes(data):
    name = data.draw(st.sampled_from(MACHINES))
    made = sheet(name)
    each = cause(data.draw(st.sampled_from(sorted(causes_by_code(name)))), name)
    code = data.draw(st.sampled_from(sorted(made.protections.present)))
    assert set(made.open_hazards(each)) <= set(made.open_hazards(each, {code}))


def test_stopping_features_are_of_the_machine_and_of_the_catalogue():
    present = sheet(NEWEST).protections.present
    for code in ("oxygen-inlet-lost", "flush-valve-leant-on", "oxygen-yoke-1-holds-air"):
        for row in rows(code, NEWEST).values():
            assert set(row.stopped_by) <= present <= FEATURES.keys()


def test_a_pair_is_told_of_only_for_what_neither_of_the_two_leads_to_alone():
    ordinary = ordinary_state(machine())
    lost, leak, stuck = (
        cause(code) for code in ("oxygen-inlet-lost", "flow-bank-leaking", "nitrous-oxide-cut-off-valve-stuck-open")
    )
    both = {row.hazard: row.status for row in sheet().rows(pair_of(lost, stuck, ordinary))}
    assert both["hypoxic-mixture"] is Status.OPEN  # lost oxygen alone is stopped, the stuck valve alone is silent
    assert "no-fresh-gas" not in both  # that is what lost oxygen leads to by itself
    assert "theatre-pollution" not in {row.hazard for row in sheet().rows(pair_of(leak, stuck, ordinary))}
