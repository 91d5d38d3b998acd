"""Classes of causes that a cover table must not miss, by hand-worked values."""

from dataclasses import replace
from types import MappingProxyType

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from fleet.catalogue import FEATURES
from fleet.circuit.as_found import worse_rows
from fleet.circuit.causes import causes_of
from fleet.circuit.cover import CoverSheet, cover_table
from fleet.circuit.cover_rows import Status
from fleet.circuit.cover_text import table_data, table_text
from fleet.circuit.latent_failures import sole_protection
from fleet.circuit.solver import solve
from fleet.circuit.state import Fault
from fleet.circuit.structure import Connection, Port
from fleet.circuit.units import to_si
from fleet.circuit.usual_states import ordinary_state, set_flow
from fleet.circuit.working_points import cause_at
from tests.fleet.circuit.demo_machines import NEWEST, OLDEST, cause, causes_by_code, machine, rows, sheet

ORDER = list(Status)


def worst_rows(name, code):
    """Return the rows of a cause by hazard, worst over the working points."""
    return {row.hazard: row for row in sheet(name).rows_at_all_points(cause(code, name))}


def with_options(circuit, code, **options):
    component = circuit.component(code)
    changed = replace(component, options=MappingProxyType({**component.options, **options}))
    return replace(circuit, components=tuple(changed if each is component else each for each in circuit.components))


def flowing(circuit, **litres):
    """Return ordinary use with the vaporizers off and these flows, L/min."""
    state = ordinary_state(circuit)
    for gas, flow in litres.items():
        state = set_flow(circuit, state, gas.replace("_", "-"), to_si(flow, "L/min"))
    for component in circuit.of_kind("vaporizer"):
        state = state.with_settings(component.code, dial=0.0)
    return state


# --- where a bank leaks ---


# Worked by hand: of 2 L/min of oxygen with 4 of nitrous oxide a crack before they meet takes oxygen alone, x L/min, and
# leaves (2 - x) / (6 - x). With x = 0.87 that is 22 %; the gases mixed first would stay at 33 %.
def test_a_cracked_oxygen_tube_loses_oxygen_before_the_gases_meet():
    circuit = machine()
    found = solve(circuit, flowing(circuit, oxygen=2, nitrous_oxide=4), [Fault("oxygen-flowmeter", "leaking")])
    lost, left = found.flow("oxygen-flowmeter", "leak"), found.flow("outlet")
    oxygen = lost.value_m3_s * lost.mix.share("oxygen")
    assert oxygen == approx(to_si(2, "L/min"), rel=0.02)  # the crack takes more than the tube brings
    assert left.mix.share("oxygen") < 0.01


@pytest.mark.parametrize("flow", [4.0, 5.0, 6.0])
def test_what_a_crack_leaves_is_what_the_flows_say(flow):
    circuit = machine()
    state = flowing(circuit, oxygen=flow, nitrous_oxide=4)
    whole, found = solve(circuit, state), solve(circuit, state, [Fault("oxygen-flowmeter", "leaking")])
    lost, left = found.flow("oxygen-flowmeter", "leak"), found.flow("outlet")
    oxygen, other = (whole.flow(f"{gas}-flowmeter").value_m3_s for gas in ("oxygen", "nitrous-oxide"))
    assert lost.mix.share("oxygen") == approx(1, abs=1e-6)
    x = lost.value_m3_s
    assert left.mix.share("oxygen") == approx((oxygen - x) / (oxygen + other - x), rel=0.01)


def test_a_crack_in_a_tube_that_is_not_in_use_takes_what_passes_it():
    circuit = with_options(machine(), "flow-bank", order="oxygen air nitrous-oxide")
    last = with_options(machine(), "flow-bank", order="air nitrous-oxide oxygen")
    shares = []
    for each in (circuit, last):
        found = solve(each, flowing(each, oxygen=4, nitrous_oxide=4), [Fault("air-flowmeter", "leaking")])
        shares.append(found.flow("air-flowmeter", "leak").mix.share("oxygen"))
    assert shares[0] == approx(1, abs=1e-3)  # oxygen passes the air tube, nitrous oxide joins after it
    assert shares[1] < 0.6  # no gas passes it; both come back from where they meet


def test_a_cracked_tube_that_enters_later_loses_its_own_gas_before_it_meets_the_others():
    circuit = machine()
    cracked = [Fault("nitrous-oxide-flowmeter", "leaking")]
    found = solve(circuit, flowing(circuit, oxygen=4, nitrous_oxide=6), cracked)
    assert found.flow("nitrous-oxide-flowmeter", "leak").mix.share("nitrous-oxide") == approx(1, abs=1e-6)


def test_a_measured_leak_of_the_bank_counts_where_it_takes_oxygen():
    component = machine().component("flow-bank")
    leaking = replace(component, values=MappingProxyType({**component.values, "leak_flow": to_si(0.3, "L/min")}))
    circuit = replace(
        machine(), components=tuple(leaking if each is component else each for each in machine().components)
    )
    lost = solve(circuit, flowing(circuit, oxygen=2, nitrous_oxide=4)).flow("flow-bank", "leak")
    assert lost.value_m3_s > 0 and lost.mix.share("oxygen") == approx(1, abs=1e-6)


def test_the_order_that_is_not_known_is_the_worst():
    known = with_options(machine(), "flow-bank", order="nitrous-oxide air oxygen")
    leak = [Fault("flow-bank", "leaking at the far end")]
    oxygen = [
        solve(each, flowing(each, oxygen=4, nitrous_oxide=4), leak).flow("outlet").mix.share("oxygen")
        for each in (machine(), known)
    ]
    assert oxygen[0] < 0.45 < 0.5 < oxygen[1]
    assert worst_rows(OLDEST, "flow-bank-leaking-at-the-far-end")["hypoxic-mixture"].status is Status.OPEN


def test_no_tube_order_makes_oxygen_last_lose_more():
    first, last = machine(), machine(OLDEST, "o2-last")
    for mode in ("leaking", "leaking at the far end"):
        oxygen = [
            solve(each, flowing(each, oxygen=3, nitrous_oxide=3), [Fault("flow-bank", mode)])
            .flow("outlet")
            .mix.share("oxygen")
            for each in (first, last)
        ]
        assert oxygen[1] > oxygen[0] - 1e-9


# --- what the patient takes up ---


# Worked by hand: 0.25 L/min of oxygen with 0.75 of nitrous oxide read 25 % at the outlet; the patient takes up 0.25.
def test_a_quarter_at_the_outlet_is_nothing_in_a_closed_system():
    row = rows("low-flow-nitrous-oxide")["hypoxic-mixture"]
    assert row.status is Status.OPEN and row.figures.oxygen < 0.1
    circuit = machine()
    found = solve(circuit, flowing(circuit, oxygen=0.25, nitrous_oxide=0.75))
    assert found.flow("outlet").mix.share("oxygen") == approx(0.25, abs=0.01)
    assert found.flow("apl-valve").mix.share("oxygen") < 0.01


# Worked by hand: (oxygen - 0.25) / (oxygen + other - 0.25) leaves a system that mixes.
def test_the_cause_of_low_flow_offers_a_quarter_of_oxygen_and_no_more_than_is_taken_up():
    state = cause("low-flow-nitrous-oxide", OLDEST).state
    flows = {gas: state.of(f"{gas}-control")["set_flow"] for gas in ("oxygen", "nitrous-oxide")}
    assert flows == {"oxygen": approx(to_si(0.25, "L/min")), "nitrous-oxide": approx(to_si(0.75, "L/min"))}


@pytest.mark.parametrize(("oxygen", "other"), [(2, 4), (1, 3), (0.5, 0.5), (0.5, 1.5)])
def test_what_leaves_the_system_has_lost_what_the_patient_took_up(oxygen, other):
    circuit = machine()
    found = solve(circuit, flowing(circuit, oxygen=oxygen, nitrous_oxide=other))
    given = found.flow("outlet")
    fresh, share = given.value_m3_s / to_si(1, "L/min"), given.mix.share("oxygen")
    vented = found.flow("apl-valve")
    assert vented.value_m3_s / to_si(1, "L/min") == approx(fresh - 0.25, rel=1e-3)
    assert vented.mix.share("oxygen") == approx((fresh * share - 0.25) / (fresh - 0.25), rel=1e-3)


# --- carbon dioxide and ventilation ---


def test_exhausted_absorbent_shows_at_low_flow_where_ordinary_use_hides_it():
    assert "carbon-dioxide" not in rows("absorber-exhausted")
    row = worst_rows(OLDEST, "absorber-exhausted")["carbon-dioxide"]
    assert row.status is Status.OPEN and "0.5 L/min of oxygen" in row.cause.title


# Worked by hand: of 5 L/min breathed 1 is fresh; 4 return, with the 0.2 L/min given off in the 1 that leaves: 16 %.
def test_what_is_rebreathed_is_what_is_given_off_in_what_leaves():
    circuit = machine()
    found = solve(circuit, flowing(circuit, oxygen=0.5, nitrous_oxide=0.5), [Fault("absorber", "exhausted")])
    assert found.carbon_dioxide == approx(4 / 5 * 0.2, rel=0.05)
    assert solve(circuit, flowing(circuit, oxygen=0.5, nitrous_oxide=0.5)).carbon_dioxide < 1e-6


@pytest.mark.parametrize("valve", ["expiratory-valve", "inspiratory-valve"])
def test_a_disc_that_stays_up_is_rebreathed_past(valve):
    row = rows(f"{valve}-stuck-open")["carbon-dioxide"]
    assert row.status is Status.OPEN and any("pass both ways" in step for step in row.steps)


@pytest.mark.parametrize(
    "code",
    [
        "ventilator-not-started", "ventilator-stopped", "ventilator-spill-stuck-open", "ventilator-torn-bellows",
        "selector-on-the-bag-by-mistake", "patient-blocked", "inspiratory-valve-stuck-shut", "oxygen-inlet-lost",
    ],
)  # fmt: skip
def test_what_keeps_gas_from_the_lung_is_hypoventilation(code):
    assert rows(code, NEWEST)["hypoventilation"].status in (Status.OPEN, Status.TOLD)


def test_a_spill_valve_that_holds_no_pressure_is_told_of_by_the_low_pressure_alarm():
    row = rows("ventilator-spill-stuck-open", NEWEST)["hypoventilation"]
    assert (row.status, row.told_by) == (Status.TOLD, ("low-pressure-alarm",))


# --- what stops, what alarms, what only tells ---


def test_a_fluted_knob_tells_and_does_not_stop():
    code = "oxygen-shut-by-a-slip-nitrous-oxide-on"
    fluted = replace(machine(), fittings=machine().fittings | {"o2-control-profile"})
    row = {each.hazard: each for each in CoverSheet(fluted).rows(causes_by_code(OLDEST)[code])}["hypoxic-mixture"]
    assert (row.status, row.stopped_by, row.noticed_by) == (Status.OPEN, (), ("o2-control-profile",))
    assert any("Noticed only by touch or sight" in step for step in row.steps)


def test_a_disconnection_that_alarms_is_not_open_as_awareness():
    found = rows("inspiratory-hose-out-patient-in-off", NEWEST)
    assert "low-pressure-alarm" in found["disconnection"].told_by
    assert found["awareness"].status is Status.TOLD and "low-pressure-alarm" in found["awareness"].told_by


def test_swapped_hoses_show_at_the_flow_that_they_make_hypoxic():
    bare = replace(machine(), fittings=machine().fittings - {"pipeline-gas-specific"})
    swapped = causes_by_code(OLDEST)["oxygen-inlet-hose-of-nitrous-oxide"]
    made = CoverSheet(bare)
    assert "hypoxic-mixture" not in {row.hazard for row in made.rows(swapped)}  # 4 L/min of oxygen with 2
    found = {row.hazard: row for row in made.rows_at_all_points(swapped)}["hypoxic-mixture"]
    assert found.status is Status.OPEN and "4 L/min of oxygen alone" in found.cause.title
    fitted = worst_rows(OLDEST, swapped.code)["hypoxic-mixture"]
    assert (fitted.status, fitted.stopped_by) == (Status.STOPPED, ("pipeline-gas-specific",))


def test_of_two_working_points_the_worse_counts(monkeypatch):
    made = CoverSheet(machine())
    crossed = causes_by_code(OLDEST)["oxygen-inlet-carries-air"]
    stopped = replace(made.rows(crossed)[0], hazard="hypoxic-mixture", status=Status.STOPPED)
    monkeypatch.setattr(made, "rows", lambda each: [stopped])
    monkeypatch.setattr(made, "_rows_at", lambda each, point: [replace(stopped, status=Status.OPEN)])
    assert [row.status for row in made.rows_at_all_points(crossed)] == [Status.OPEN]


def test_what_a_working_point_does_by_itself_is_no_fault_of_the_cause():
    patient = machine().component("patient")
    greedy = replace(patient, values=MappingProxyType({"oxygen_uptake": to_si(0.49, "L/min")}))
    made = CoverSheet(
        replace(machine(), components=tuple(greedy if each is patient else each for each in machine().components))
    )
    assert "hypoxic-mixture" in made.bench.look(made.points["low-flow"].state).hazards
    blocked = causes_by_code(OLDEST)["air-flowmeter-blocked"]  # air is not in use
    assert "hypoxic-mixture" not in {row.hazard for row in made.rows_at_all_points(blocked)}


@given(st.lists(st.sampled_from(list(Status)), min_size=2, max_size=2))
def test_of_the_tables_with_and_without_failed_results_the_worse_row_counts(statuses):
    row = rows("oxygen-inlet-lost")["no-fresh-gas"]
    ((found,),) = [worse_rows([replace(row, status=each)] for each in statuses)]
    assert found.status is min(statuses, key=ORDER.index)


def test_a_feature_that_only_tells_prevents_nothing_even_if_a_cause_names_it():
    fluted = replace(machine(), fittings=machine().fittings | {"o2-control-profile"})
    slip = replace(cause("oxygen-shut-by-a-slip-nitrous-oxide-on"), prevented_by=("o2-control-profile",))
    assert CoverSheet(fluted).protections.preventing(slip) == ()


@pytest.mark.parametrize("mode", ["wrong agent", "weak agent"])
def test_a_keyed_filler_prevents_misfilling_in_both_directions(mode):
    code = f"vaporizer-1-{mode.replace(' ', '-')}"
    assert cause(code).prevented_by == ("keyed-filler",)


# 1 MAC and vapour pressure: halothane 0.75 %, 32.4 kPa; isoflurane 1.17 %, 31.7 kPa; sevoflurane 2 %, 21 kPa.
def test_misfilling_upward_overdoses_and_downward_wakes():
    for agent, mode, hazard in (
        ("isoflurane", "weak-agent", "awareness"),
        ("sevoflurane", "wrong-agent", "agent-overdose"),
    ):
        circuit = with_options(machine(), "vaporizer-1", agent=agent)
        misfilled = next(each for each in causes_of(circuit) if each.code == f"vaporizer-1-{mode}")
        assert hazard in {row.hazard for row in CoverSheet(circuit).rows(misfilled)}


# --- latent failures, folded pollution, what is not judged ---


@pytest.fixture(scope="module")
def table():
    return cover_table(machine("norrfell-3s"))


def test_the_failure_of_the_only_protection_is_in_the_ordinary_table_and_marked(table):
    found = [row for row in table.latent_rows if row.cause.code.endswith("--oxygen-inlet-lost")]
    hypoxic = next(row for row in found if row.hazard == "hypoxic-mixture")
    assert (hypoxic.status, hypoxic.told_by) == (Status.TOLD, ("o2-supply-alarm",))  # no longer stopped
    assert hypoxic.cause.latent == "o2-failure-protection"
    assert "unnoticed; then" in hypoxic.cause.title
    assert not any(row.cause.latent for row in table.open_rows)
    assert "Latent: " in table_text(table)
    data = table_data(table)
    assert sum(row["latent"] for row in data["rows"]) == sum(data["latent_counts"].values()) > 0


def test_only_what_alone_stops_or_alarms_is_the_sole_protection():
    row = rows("oxygen-inlet-lost", NEWEST)["no-fresh-gas"]
    for status, key in ((Status.STOPPED, "stopped_by"), (Status.TOLD, "told_by")):
        one = replace(row, status=status, stopped_by=(), told_by=(), together=False)
        assert sole_protection(replace(one, **{key: ("o2-analyser",)})) == "o2-analyser"
        assert sole_protection(replace(one, **{key: ("o2-analyser", "agent-monitor")})) == ""
        assert sole_protection(replace(one, **{key: ("o2-analyser",)}, together=True)) == ""
    assert sole_protection(replace(row, status=Status.OPEN, stopped_by=("o2-analyser",))) == ""


def test_a_row_with_two_protections_has_no_latent_failure(table):
    double = {(row.hazard, row.cause.code) for row in table.first_rows if len(row.stopped_by) > 1}
    assert double
    for row in table.latent_rows:
        assert (row.hazard, row.cause.code.split("--", 1)[1]) not in double


def test_pollution_has_one_row_for_each_class_of_source_and_keeps_its_causes(table):
    folded = [row for row in table.rows if row.hazard == "theatre-pollution" and not row.cause.latent]
    assert len(folded) <= 8 and sum(len(row.beneath) or 1 for row in folded) > 30
    for row in folded:
        statuses = [ORDER.index(each.status) for each in row.beneath]
        assert not statuses or ORDER.index(row.status) == min(statuses)
    text = " ".join(table_text(table).split())  # long titles are wrapped
    assert all(inside.cause.title in text for row in folded for inside in row.beneath)


def test_the_table_says_what_it_does_not_judge(table):
    told = table_data(table)["not_judged_causes"]
    assert told and all(each["reason"] for each in told)
    assert any("tides" in each["reason"] for each in told)


def test_auxiliary_outlet_selected_wrongly_leaves_no_fresh_gas():
    circuit = machine()
    component = replace(
        circuit.component("outlet"), code="outlet-selector", kind="outlet-selector", label="Outlet selector"
    )
    hose = next(connection for connection in circuit.connections if connection.source.component == "outlet")
    more = (Connection(hose.source, Port(component.code, "in")), replace(hose, source=Port(component.code, "out")))
    connections = (*(connection for connection in circuit.connections if connection is not hose), *more)
    made = CoverSheet(replace(circuit, components=(*circuit.components, component), connections=connections))
    wrong = next(each for each in causes_of(made.circuit) if each.code == "outlet-selector-auxiliary")
    assert {row.hazard for row in made.rows(wrong)} >= {"no-fresh-gas", "awareness"}
    assert "no-fresh-gas" not in made.ordinary.hazards


# A float that shows 2 L/min while a quarter of it flows, beside 4 L/min of nitrous oxide: 0.5 / 4.5 is 11 %. By hand.
def test_a_stuck_oxygen_float_hides_how_little_flows():
    row = rows("oxygen-flowmeter-float-stuck-shows-more")["hypoxic-mixture"]
    assert row.status is Status.OPEN
    each = cause("oxygen-flowmeter-float-stuck-shows-more")
    found = sheet(OLDEST).bench.look(each.state, each.faults).solution
    assert found.flow("outlet").mix.share("oxygen") == approx(0.5 / 4.5, abs=0.01)


def test_without_mains_and_battery_ventilator_and_electronic_valves_stop():
    lost = cause("mains-supply-lost", NEWEST)
    assert lost.prevented_by == ("battery-reserve",)
    found = sheet(NEWEST).bench.look(lost.state)
    assert [component.code for component in found.seen.idle_ventilators] == ["ventilator"]
    assert {"no-fresh-gas", "hypoventilation"} <= set(found.hazards)
    assert rows("mains-supply-lost", NEWEST)["hypoventilation"].status is Status.STOPPED


def test_a_working_point_leaves_what_the_cause_itself_sets():
    made = sheet(OLDEST)
    each = cause("oxygen-flowmeter-float-stuck-shows-more")
    for point in made.points.values():
        there = cause_at(each, point, made.ordinary_state)
        assert there.state.of("oxygen-control") == each.state.of("oxygen-control")
        assert there.state.of("nitrous-oxide-control") == point.state.of("nitrous-oxide-control")


def test_an_unwanted_feature_protects_nobody_even_where_the_record_says_that_it_is_fitted():
    made = CoverSheet(replace(machine(), fittings=frozenset(FEATURES)))
    assert made.protections.present and not any(FEATURES[code].is_unwanted for code in made.protections.present)
