"""By what a solved circuit is judged."""

from dataclasses import replace

import pytest

from fleet.catalogue import HAZARDS
from fleet.catalogue.loading import CatalogueError, Entry
from fleet.circuit.effects import Seen, foreign_share
from fleet.circuit.gases import ROOM_AIR, Mix
from fleet.circuit.hazard_limits import LIMITS, limit_from, limit_si
from fleet.circuit.hazards import CRITERIA, NOT_JUDGED, hazards_of
from fleet.circuit.solver import solve
from fleet.circuit.state import Fault, State
from fleet.circuit.units import from_si, to_si
from fleet.circuit.usual_states import ordinary_state
from tests.fleet.circuit.demo_machines import NEWEST, cause, machine, sheet


def seen(code, name="norrfell-3"):
    each = cause(code, name)
    return sheet(name).bench.look(each.state, each.faults).seen


def with_flows(oxygen, nitrous_oxide, air=0.0):
    """Solve the oldest machine with these flows set, L/min, and the vaporizers off."""
    circuit = machine()
    state = ordinary_state(circuit).with_settings("vaporizer-1", dial=0.0)
    for gas, flow in (("oxygen", oxygen), ("nitrous-oxide", nitrous_oxide), ("air", air)):
        state = state.with_settings(f"{gas}-control", set_flow=to_si(flow, "L/min"))
    return solve(circuit, state)


def test_every_hazard_of_the_catalogue_is_judged_or_said_not_to_be():
    assert CRITERIA.keys() | NOT_JUDGED.keys() == HAZARDS.keys()
    assert not CRITERIA.keys() & NOT_JUDGED.keys()


# Minimum oxygen with nitrous oxide 25 %, nitrous oxide to oxygen 3:1. Source: ASA Monitor 2015; 79(10): 42, abstract
def test_three_to_one_is_25_per_cent_and_no_hypoxic_mixture():
    found = with_flows(1, 3)
    assert Seen(found).dry_oxygen == pytest.approx(0.25, abs=0.005)
    assert "hypoxic-mixture" not in hazards_of(found)


def test_four_to_one_is_20_per_cent_and_is_one():
    found = with_flows(1, 4)
    assert Seen(found).dry_oxygen == pytest.approx(0.20, abs=0.005)
    assert "hypoxic-mixture" in hazards_of(found)


def test_air_alone_is_no_hypoxic_mixture_but_brings_too_little_from_a_shut_machine():
    assert "hypoxic-mixture" not in hazards_of(with_flows(0, 0, 5))
    assert hazards_of(with_flows(0, 0, 0.3))[0] == "no-fresh-gas"  # 21 % of it is 63 mL/min


# An adult at rest uses about 250 mL/min of oxygen. Source: from memory
@pytest.mark.parametrize(("oxygen", "is_too_little"), [(0.3, False), (0.15, False), (0.1, True)])
def test_too_little_oxygen_is_less_than_half_of_what_an_adult_uses(oxygen, is_too_little):
    assert ("no-fresh-gas" in hazards_of(with_flows(oxygen, 0))) is is_too_little


# 100 m3, 20 air changes: a leak of 100 mL/min gives 3.0 ppm, 1.5 L/min gives 45 ppm.
# Source: steady dilution, ppm = G/Q x 1e6, worked in the table of theatre air; limits NIOSH 77-140
def test_the_theatre_dilutes_as_the_table_says():
    dilution = limit_si("theatre-volume") * limit_si("air-changes")
    assert to_si(100, "mL/min") / dilution == pytest.approx(3.0e-6, rel=1e-6)
    assert to_si(1.5, "L/min") / dilution == pytest.approx(45e-6, rel=1e-6)
    assert limit_si("nitrous-oxide-in-room") == pytest.approx(25e-6)
    assert limit_si("vapour-in-room") == pytest.approx(2e-6)


def test_spilled_gas_pollutes_only_where_nothing_extracts_it():
    extracted, spilled = seen("ordinary-use"), seen("scavenging-extract-off")
    assert from_si(extracted.lost("nitrous-oxide"), "mL/min") < 1
    assert from_si(spilled.lost("nitrous-oxide"), "L/min") == pytest.approx(4, rel=0.05)


def test_room_air_breathed_through_an_open_hose_is_a_disconnection_and_no_hypoxic_mixture():
    found = seen("inspiratory-hose-out-patient-in-off")
    assert found.room_share > 0.9
    assert {"disconnection", "awareness", "no-fresh-gas"} <= set(hazards_of(found.solution))
    assert "hypoxic-mixture" not in hazards_of(found.solution)


def test_a_loose_end_that_passes_nothing_is_no_disconnection():
    circuit = machine(NEWEST)  # the ventilator is chosen, the bag stands aside
    bag = next(connection for connection in circuit.connections if connection.target.component == "bag")
    ordinary = ordinary_state(circuit)
    aside = State("aside", "Bag off beside the ventilator", ordinary.settings, frozenset({bag}))
    assert "disconnection" not in hazards_of(solve(circuit, aside))
    assert "disconnection" in hazards_of(solve(circuit, aside.with_settings("selector", position="bag")))


def test_no_fresh_gas_leaves_no_mixture_to_tell():
    found = seen("oxygen-inlet-lost")
    assert found.stands_still and found.figures.oxygen is None and found.figures.agents == {}


def test_a_cylinder_in_use_is_no_cylinder_emptied_unseen():
    assert seen("oxygen-yoke-1-in-use", NEWEST).drained == ()
    ((component, flow),) = seen("oxygen-inlet-sagged-oxygen-yoke-1-open", NEWEST).drained
    assert component.code == "oxygen-yoke-1" and from_si(flow, "L/min") > 2


def test_an_empty_line_that_takes_up_other_gas_is_no_wrong_gas():
    assert seen("oxygen-inlet-lost").foreign == ()
    assert {component.code for component, *_ in seen("oxygen-inlet-carries-air").foreign} == {"oxygen-control", "flush-valve"}


@pytest.mark.parametrize(
    ("shares", "gas", "foreign"),
    [
        ({"oxygen": 1.0}, "oxygen", 0.0),
        ({"oxygen": 1.0}, "nitrous-oxide", 1.0),
        ({"oxygen": 0.9, "nitrous-oxide": 0.1}, "oxygen", 0.1),
        (dict(ROOM_AIR.shares), "air", 0.0),
        (dict(ROOM_AIR.shares), "oxygen", 0.7905),
        ({"oxygen": 1.0}, "air", 0.7905),
    ],
)
def test_what_does_not_belong_in_a_line_is_counted(shares, gas, foreign):
    assert foreign_share(Mix.of(shares), gas) == pytest.approx(foreign, abs=1e-12)


def test_agent_counts_by_its_partial_pressure():
    circuit = machine()
    low = ordinary_state(circuit).with_settings("vaporizer-1", dial=0.02)
    sea = Seen(solve(circuit, low))
    high = Seen(solve(replace(circuit, ambient_pa_abs=84_560.0), low))
    # Simple rule: share = dial x 101.325 kPa / ambient, partial pressure the same. Source: common practice, no source
    thinner = 101.325 / 84.56
    assert high.inspired.share("halothane") == pytest.approx(sea.inspired.share("halothane") * thinner, rel=0.01)
    assert sea.mac == pytest.approx(0.02 / 0.0075, rel=0.02)
    assert high.mac == pytest.approx(sea.mac, rel=0.01)


def test_a_leak_in_the_bank_takes_fresh_gas_and_pollutes():
    circuit = machine()
    found = solve(circuit, ordinary_state(circuit), (Fault("flow-bank", "leaking"),))
    assert "theatre-pollution" in hazards_of(found)


# A bag holds at 30 to 60 cmH2O however far it swells. Source: ASTM F1204, from memory
def test_a_shut_spill_valve_fills_the_bag_to_a_pressure_that_hurts():
    found = seen("apl-valve-shut")
    assert 30 < from_si(found.airway[1], "cmH2O") < 60
    assert "barotrauma" in hazards_of(found.solution)


def test_limits_have_a_source_and_a_reason():
    assert all(limit.source.title and limit.note and limit.what for limit in LIMITS.values())
    with pytest.raises(CatalogueError, match="has no limit 'gravity'"):
        limit_si("gravity")


def test_a_limit_in_an_unknown_unit_is_refused():
    table = {"code": "x", "value": 1, "unit": "furlong"}
    with pytest.raises(CatalogueError, match="unit is 'furlong'; accepted: %"):
        limit_from(Entry("hazard_limits.toml", 1, table))
