"""Circuits whose pressures, flows and fractions are worked out by hand, in the comments.

A flow control here is rated at 345 kPa gauge, 446.325 kPa absolute. At that supply its flow is choked, and choked flow
is in proportion to the absolute pressure before it. Pipes lose 30 % of their drop in proportion to flow and 70 % in
proportion to its square, at a stated flow of oxygen: drop(q) = drop0 (0.3 x + 0.7 x2), x = q / q0. Every shut seat
passes 0.02 mL/min at 400 kPa. These laws are those of the elements; what they lead to is worked out here.
"""

from math import sqrt

from pytest import approx
from scipy.optimize import brentq

from fleet.circuit.state import Fault
from tests.fleet.circuit.plumber import (
    LPM,
    PIPELINE_PA,
    PSI,
    ROOM_PA,
    bank_and_outlet,
    built,
    drop,
    flow,
    lane,
    component,
    solved,
    state,
    two_gases,
)

FULL_PA_ABS = ROOM_PA + PIPELINE_PA
OXYGEN_DENSITY = 1.3302  # kg/m3 at 20 C and 101.325 kPa: 0.0319988 x 101325 / (8.314463 x 293.15)


def oxygen_only():
    components, lines = lane("oxygen")
    more, others = bank_and_outlet()
    return built([*components, *more], *lines, *others)


# 1. All oxygen


def test_oxygen_alone_flows_as_set_and_is_all_there_is():
    found = solved(oxygen_only(), state(oxygen_control={"set_flow": 2 * LPM}))
    # The hose loses 10 kPa at 60 L/min, at 2 L/min 10000 (0.3/30 + 0.7/900) = 107.8 Pa.
    assert PIPELINE_PA - found.gauge("oxygen-control", "in") == approx(107.8, abs=0.1)
    # Choked: 2 (446325 - 107.8) / 446325 = 1.99952 L/min
    assert flow(found, "outlet") == approx(1.99952, abs=2e-5)
    # Outlet: 50 Pa at 10 L/min, at 2 L/min 50 (0.06 + 0.028) = 4.4 Pa; the open end takes 100 L/min at 10 Pa: 0.2 Pa.
    assert found.gauge("outlet", "in") == approx(4.6, abs=0.01)
    # Bank: 100 Pa at 10 L/min in all, 8.8 Pa. Tube: 200 Pa at 5 L/min, 200 (0.12 + 0.112) = 46.4 Pa.
    assert found.gauge("oxygen-flowmeter", "in") == approx(4.6 + 8.8 + 46.4, abs=0.05)
    assert found.mix("outlet", "out").share("oxygen") == approx(1, abs=1e-12)


# 2. No supply


def test_without_supply_nothing_flows_and_nothing_is_under_pressure():
    found = solved(oxygen_only(), state(oxygen_inlet={"supply_gas": ""}, oxygen_control={"set_flow": 2 * LPM}))
    assert max(abs(found.gauge(*port)) for port in found.pressures_pa_abs if port.component) < 1e-3
    assert max(abs(one.value_m3_s) for one in found.flows.values()) < 1e-12


# 3. Symmetric halves


def test_two_like_halves_share_alike():
    components, lines = [], []
    for side in ("left", "right"):
        components += [component(f"{side}-inlet", "pipeline-inlet", "oxygen"), component(f"{side}-filter", "filter", "oxygen")]
        lines += [f"{side}-inlet.out > {side}-filter.in", f"{side}-filter.out > outlet.in"]
    found = solved(built([*components, component("outlet", "outlet")], *lines), state())
    assert flow(found, "left-filter") == approx(flow(found, "outlet") / 2, rel=1e-12)
    assert found.gauge("left-filter", "in") == approx(found.gauge("right-filter", "in"), rel=1e-12)


# 4. Two regulators in parallel, from cylinders at 5 MPa


def regulators(*set_pa):
    components = [component("outlet-control", "flow-control", "oxygen", supply_pressure=300e3)]
    lines = []
    for number, one in enumerate(set_pa, 1):
        components += [
            component(f"yoke-{number}", "cylinder-yoke", "oxygen", highest_pressure=5e6),
            component(f"regulator-{number}", "pressure-regulator", "oxygen", output_pressure=one, inlet_pressure=5e6),
        ]
        lines += [f"yoke-{number}.out > regulator-{number}.in", f"regulator-{number}.out > outlet-control.in"]
    return built(components, *lines)


def regulated(*set_pa):
    opened = {f"yoke_{n}": {"is_open": 1} for n in range(1, len(set_pa) + 1)}
    return solved(regulators(*set_pa), state(outlet_control={"set_flow": 10 * LPM}, **opened))


def test_two_like_regulators_carry_half_each():
    found = regulated(310e3, 310e3)
    # Rated 100 L/min at a droop of 20 kPa and wide open at 60 kPa, so 300 L/min in all. Each carries 5 of 300, 1/60 of
    # its opening, and as much again is the rounding of its corner at 1 % of 60 kPa: 60 (1/60 + 0.01) = 1.6 kPa.
    assert found.gauge("outlet-control", "in") == approx(310e3 - 1.6e3, abs=40)
    # 10 L/min at 300 kPa: 10 (101.325 + 308.4) / 401.325 = 10.21 L/min
    assert flow(found, "outlet-control") == approx(10.21, abs=0.01)
    assert flow(found, "regulator-1") == approx(flow(found, "regulator-2"), rel=1e-9)


def test_of_two_unlike_regulators_the_higher_carries_what_it_can():
    found = regulated(316e3, 310e3)
    # The higher alone: 10.35 of 300 L/min, 60 (0.0345 + 0.01) = 2.7 kPa below 316: the lower, at 310, stays shut.
    assert found.gauge("outlet-control", "in") == approx(316e3 - 2.7e3, abs=60)
    assert flow(found, "regulator-2") < 1e-3


# 5. and 6. Pipeline at 50 psi against a regulator at 45 psi, and the regulator that creeps above it


def two_sources(**values):
    components, lines = lane("oxygen", "bank.in")
    more, others = bank_and_outlet()
    extra = [
        component("pipeline-check-valve", "check-valve", "oxygen", {"place": "pipeline"}),
        component("oxygen-yoke", "cylinder-yoke", "oxygen", highest_pressure=12.5e6),
        component(
            "oxygen-regulator", "pressure-regulator", "oxygen", output_pressure=45 * PSI, inlet_pressure=5e6, **values
        ),
    ]
    lines = [
        "oxygen-inlet.out > pipeline-check-valve.in",
        "pipeline-check-valve.out > oxygen-control.in",
        "oxygen-yoke.out > oxygen-regulator.in",
        "oxygen-regulator.out > oxygen-control.in",
        *lines[1:],
        *others,
    ]
    return built([*components, *more, *extra], *lines)


def with_cylinder(flow_lpm=10.0):
    pipeline = {"supply_pressure": 50 * PSI}
    return state(oxygen_inlet=pipeline, oxygen_yoke={"is_open": 1}, oxygen_control={"set_flow": flow_lpm * LPM})


FLOOR = 0.02e-3 / 400e3  # L/min per Pa that any shut seat passes


def test_the_pipeline_at_50_psi_is_used_before_the_cylinder_behind_45_psi():
    found = solved(two_sources(), with_cylinder())
    # Hose at 10 L/min: 10000 (0.05 + 0.0194) = 694 Pa; check valve 2000 + 100 (rounding) + 5000 (0.0694) = 2447 Pa.
    assert found.gauge("oxygen-control", "in") == approx(50 * PSI - 694 - 2447, abs=60)
    assert flow(found, "oxygen-inlet") == approx(flow(found, "outlet"), rel=1e-4)
    assert (
        0 <= flow(found, "oxygen-regulator") <= 1.001 * FLOOR * (12.5e6 - 341.6e3)
    )  # at most 0.6 mL/min past its seat


def test_without_pipeline_the_cylinder_gives_what_the_regulator_lets_through():
    how = with_cylinder()
    found = solved(two_sources(), how.with_settings("oxygen-inlet", supply_gas=""))
    # At 12.6 MPa absolute the seat passes 12.6/5.1 x 300 = 741 L/min wide open. About 9.13 L/min is 1.23 % of that:
    # with the corner, 2.23 % of 60 kPa = 1.34 kPa below 310.26.
    assert found.gauge("oxygen-control", "in") == approx(45 * PSI - 1.34e3, abs=30)
    assert flow(found, "oxygen-control") == approx(10 * (ROOM_PA + 308.92e3) / FULL_PA_ABS, rel=2e-4)  # 9.19
    back = flow(found, "pipeline-check-valve")
    assert back == approx(-FLOOR * 308.9e3, rel=1e-3)  # past the check valve, to the inlet that stands open


def test_a_regulator_that_drifts_above_the_pipeline_empties_the_cylinder_unseen():
    found = solved(two_sources(), with_cylinder(), Fault("oxygen-regulator", "drifted high"))
    # 45 psi and 30 % are 58.5 psi, 403.3 kPa, above the pipeline's 50.
    assert found.gauge("oxygen-control", "in") == approx(58.5 * PSI - 1.5e3, abs=200)
    assert flow(found, "oxygen-regulator") == approx(flow(found, "outlet"), rel=1e-4)
    assert flow(found, "oxygen-inlet") == approx(-FLOOR * (402e3 - 344.7e3), rel=0.01)


def test_a_regulator_that_creeps_gives_its_creep_while_gas_is_used():
    found = solved(two_sources(), with_cylinder(), Fault("oxygen-regulator", "creeping"))
    # 1 L/min at 5 MPa across the seat, so 12.16/5 = 2.43 L/min at 12.5 MPa against 0.34; the pipeline gives the rest.
    assert flow(found, "oxygen-regulator") == approx(1 * (12.5e6 - 0.342e6) / 5e6, rel=2e-3)
    assert flow(found, "oxygen-inlet") == approx(flow(found, "outlet") - 2.43, abs=0.01)


def test_while_no_gas_is_used_a_regulator_creeps_past_the_pipeline_to_its_relief():
    found = solved(two_sources(relief_pressure=95 * PSI), with_cylinder(0.0), Fault("oxygen-regulator", "creeping"))
    # The check valve holds the pipeline off. 2.37 L/min leaves by the relief: its way loses 50000 (0.3 x 0.01185 +
    # 0.7 x 0.00014) = 183 Pa, for which within its rounded corner of 1 kPa it wants sqrt(2 x 1000 x 183) = 605 Pa.
    assert found.gauge("oxygen-control", "in") == approx(95 * PSI + 605, abs=10)
    assert flow(found, "oxygen-regulator", "relief") == approx((12.5e6 - 0.6557e6) / 5e6, rel=1e-3)


# 7. Resistances in a row and side by side


def test_three_equal_resistances_in_a_row_share_the_pressure():
    components = [component("oxygen-inlet", "pipeline-inlet", "oxygen", hose_drop=2e3)]
    components += [component(f"filter-{n}", "filter", "oxygen", drop_60=2e3) for n in (1, 2)]
    found = solved(built(components, "oxygen-inlet.out > filter-1.in", "filter-1.out > filter-2.in"), state())
    # The end of filter 2 is open and takes some 70 Pa at 700 L/min, so a little less than thirds.
    end = found.gauge("filter-2", "out")
    assert found.gauge("filter-1", "in") - end == approx((PIPELINE_PA - end) * 2 / 3, rel=1e-9)
    assert found.gauge("filter-2", "in") - end == approx((PIPELINE_PA - end) / 3, rel=1e-9)
    # 2 kPa at 60 L/min: 115 kPa = 2000 (0.3 x + 0.7 x2) gives x = 8.85, 531 L/min
    assert flow(found, "filter-1") == approx(60 * (-0.3 + sqrt(0.09 + 2.8 * 57.5)) / 1.4, rel=1e-3)


def test_equal_resistances_side_by_side_carry_half_each_at_the_same_drop():
    components = [component("oxygen-inlet", "pipeline-inlet", "oxygen", hose_drop=100.0)]
    components += [component(f"filter-{n}", "filter", "oxygen", drop_60=200e3) for n in (1, 2)]
    components += [component("outlet", "outlet", drop_10=0.001)]
    lines = [f"oxygen-inlet.out > filter-{n}.in" for n in (1, 2)] + [f"filter-{n}.out > outlet.in" for n in (1, 2)]
    found = solved(built(components, *lines), state())
    # 345 kPa = 200 kPa (0.3 x + 0.7 x2): x = (-0.3 + sqrt(0.09 + 2.8 x 1.725)) / 1.4 = 1.370, 82.2 L/min each
    assert flow(found, "filter-1") == approx(82.2, rel=2e-3)
    assert flow(found, "outlet") == approx(2 * flow(found, "filter-1"), rel=1e-12)


# 8. A leak to the room


def leaking(joins):
    how = state(oxygen_control={"set_flow": 1 * LPM}, nitrous_oxide_control={"set_flow": 3 * LPM})
    return solved(two_gases(joins=joins), how, Fault("bank", "leaking"))


def test_a_leak_of_the_bank_loses_what_its_hole_lets_through():
    components, lines = lane("oxygen")
    more, others = bank_and_outlet()
    how = state(oxygen_control={"set_flow": 6 * LPM})
    found = solved(built([*components, *more], *lines, *others), how, Fault("bank", "leaking"))
    comes = flow(found, "oxygen-control")

    # Independent of the program: half of the bank, the outlet and its open end carry what the hole of 1.5 mm2 leaves.
    # At some 40 Pa gas hardly expands: q = A sqrt(2 dp / rho).
    def left(leak):
        rest = comes - leak
        pressure = drop(rest, 50, 10) + drop(rest, 50, 10) + rest / 10
        return 1.5e-6 * sqrt(2 * pressure / OXYGEN_DENSITY) / LPM - leak

    assert flow(found, "bank", "leak") == approx(brentq(left, 0, comes), rel=1e-3)


def test_a_leak_thins_oxygen_only_where_oxygen_does_not_come_last():
    first, last = leaking("bank.in"), leaking("bank.out")
    assert first.mix("outlet", "in").share("oxygen") == approx(0.25, rel=2e-3)  # it loses both gases alike
    lost = flow(last, "bank", "leak")
    assert last.flow("bank", "leak").mix.share("oxygen") < 1e-9  # it loses nitrous oxide alone
    assert last.mix("outlet", "in").share("oxygen") == approx(1 / (4 - lost), rel=2e-3)


# 9. Back leak of a check valve


def test_a_check_valve_lets_back_what_it_is_rated_for():
    components, lines = lane("oxygen")
    more, others = bank_and_outlet()
    valve = component("yoke-check-valve", "check-valve", "oxygen", {"place": "yoke"}, highest_back_leak=100e-3 * LPM)
    yoke = component("oxygen-yoke", "cylinder-yoke", "oxygen")
    lines += [*others, "oxygen-yoke.out > yoke-check-valve.in", "yoke-check-valve.out > oxygen-control.in"]
    found = solved(built([*components, *more, valve, yoke], *lines), state(oxygen_yoke={"cylinder_gas": ""}))
    # Rated at 100 kPa, in proportion: at 345 kPa against an empty yoke 345 mL/min, and 0.02 mL/min past any seat
    assert flow(found, "yoke-check-valve") == approx(-0.345, rel=1e-3)
    assert found.into_room_m3_s("oxygen") / LPM == approx(0.345, rel=1e-3)


# 10. Relief


def test_with_the_outlet_blocked_all_gas_leaves_by_the_relief_valve():
    components, lines = lane("oxygen")
    more, others = bank_and_outlet()
    relief = component("relief", "relief-valve", relief_pressure=35e3)
    circuit = built([*components, *more, relief], *lines, *others, "bank.out > relief.in")
    found = solved(circuit, state(oxygen_control={"set_flow": 4 * LPM}), Fault("outlet", "blocked"))
    # 10 kPa above its setting at 60 L/min: 10000 (0.3/15 + 0.7/225) = 231 Pa, half of its corner of 200 Pa, and the
    # open vent 4/10 Pa
    assert found.gauge("bank", "out") == approx(35e3 + 231 + 100, abs=3)
    assert flow(found, "relief", "vent") == approx(4, rel=1e-3)
    assert found.into_room_m3_s("oxygen") / LPM == approx(4, rel=1e-3)
