"""What a technician does and would read without any error of the gauges, in each bench test of a simulated machine.

Everything is done that proves something; a habit (habits.py) leaves a part of it out. A choice that a test starts with
is not entered again.
"""

from dataclasses import dataclass

from config.demo import closed_volume_work
from config.demo.accessory_work import (
    absorber,
    battery,
    connectors,
    exposure,
    suction,
    two_bag,
    vaporizer_safety,
)
from config.demo.alarm_work import alarms
from config.demo.bench_entry import CM_H2O, Entry
from config.demo.gas_flow import decay_pressures
from config.demo.truth import LITRE_PER_MINUTE, ML_PER_MINUTE, PSI
from inspections.at_bench.evaluation import vaporizers_of

SET_FLOW = 4 * LITRE_PER_MINUTE
ENOUGH_FLOW = 10 * LITRE_PER_MINUTE
TEST_PRESSURE_PA = 3000.0
SEA_LEVEL_PA = 101_325.0
FAULT_SEEN = {"oxygen-alarm": "silent alarm", "exclusion": "bar bypassed", "outlet-retention": "loose outlet"}


@dataclass(frozen=True, slots=True)
class BenchWork:
    """One step of an inspection on a day.

    decays  whether this site watches the pressure of the breathing system fall; else a flow holds it
    """

    step: object
    truth: object
    day: object
    habit: str
    rng: object
    decays: bool

    def entries(self):
        """Return every entry that the step asks for, in the order of work."""
        return WORK[self.step.test_code](self)


def pipeline_supply(work):
    flow = (4 if work.habit == "pipeline at 4 L/min" else 10) * LITRE_PER_MINUTE
    return [
        Entry("pressure", work.truth.pipeline_pa),
        Entry("flowing_pressure", work.truth.pipeline_at(flow)),
        Entry("flow", flow, own=True),
    ]


def supply_failure(work):
    truth, gas = work.truth, work.step.subject
    start = [Entry("full_pressure", truth.pipeline_pa), Entry("set_flow", SET_FLOW)]
    falling = _sweep(work, "falling", truth.trip_at(gas, work.day), _falling_pressures(work))
    rising = _sweep(work, "rising", truth.reset_at(gas, work.day), _rising_pressures(truth))
    return [Entry("kind", word=truth.kind), *start, *falling, *rising, *_alarm(work)]


def _falling_pressures(work):
    """Return pressures in steps that are close where the flow falls, as the technician sees it fall."""
    truth, gas = work.truth, work.step.subject
    if truth.kind == "proportional":
        shares = (0.5, 0.0) if work.habit == "coarse sweep" else (0.75, 0.5, 0.25, 0.1, 0.0)
        return [share * truth.pipeline_pa for share in shares]
    if work.habit == "coarse sweep":
        return [psi * PSI for psi in (40, 10, 0)]
    if work.habit == "sweep in steps of 5 psi":
        return [psi * PSI for psi in range(40, -1, -5)]
    trip, close = truth.trip_at(gas, work.day), [30]
    while close[-1] > 10 and truth.flow_of_other_gas(gas, SET_FLOW, close[-1] * PSI, trip) > 0.05 * SET_FLOW:
        close.append(close[-1] - 2)
    return [psi * PSI for psi in (*close, 0)]


def _rising_pressures(truth):
    if truth.kind == "proportional":
        return [share * truth.pipeline_pa for share in (0.05, 0.5, 1.0)]
    return [*(psi * PSI for psi in (8, 16, 24, 28, 32)), truth.pipeline_pa]


def _sweep(work, table, trip, pressures):
    entries = []
    for row, pressure in enumerate(pressures):
        flow = work.truth.flow_of_other_gas(work.step.subject, SET_FLOW, pressure, trip)
        entries += [Entry(table, pressure, row=row, column="pressure"), Entry(table, flow, row=row, column="flow")]
    return entries


def _alarm(work):
    """Time the alarm once, with nitrous oxide; a machine without one, and a silent one, gives nothing to time."""
    truth = work.truth
    if work.step.subject != "nitrous-oxide" or not truth.has_alarm or truth.has("silent alarm", work.day):
        return []
    return [
        Entry("alarm_pressure", truth.alarm_pa),
        Entry("alarm_delay", truth.alarm_delay_s),
        Entry("alarm_duration", work.rng.uniform(9, 14)),
    ]


def regulator(work):
    truth, gas = work.truth, work.step.component.gas
    entries = [Entry("static_pressure", truth.regulator_at(gas, 0)), Entry("inlet_pressure", 1700 * PSI)]
    for row, litres in enumerate((2, 5, 8, 11)):
        flow = litres * LITRE_PER_MINUTE
        entries += [
            Entry("flowing", flow, row=row, column="flow"),
            Entry("flowing", truth.regulator_at(gas, flow), row=row, column="pressure"),
        ]
    for row, minute in enumerate((0, 1) if work.habit == "creep watched for a minute" else (0, 1, 3, 5)):
        crept = truth.creep_pa_per_min(work.day) * minute
        entries += [
            Entry("creep", 60.0 * minute, row=row, column="time"),
            Entry("creep", truth.regulator_at(gas, 0) + crept, row=row, column="pressure"),
        ]
    return [
        *entries,
        Entry("pipeline_pressure", truth.pipeline_pa),
        Entry("pipeline_flowing_pressure", truth.pipeline_at(ENOUGH_FLOW)),
    ]


def low_pressure_leak(work):
    """Draw suction at the outlet, vaporizers off and then each in turn: positive pressure would hide leaks."""
    count = 1 if work.habit == "first vaporizer only" else vaporizers_of(work.step.inspection.machine, work.day)
    sign = 1 if work.habit == "positive pressure" else -1
    entries = _made_up(_held(work, sign), lambda held: work.truth.leak_at(work.day, held))
    for row in range(count):
        held = _held(work, sign)
        entries += [
            Entry("vaporizers", work.truth.leak_at(work.day, held, vaporizer=row), row=row, column="flow"),
            Entry("vaporizers", held, row=row, column="pressure"),
        ]
    return entries


def breathing_system_leak(work):
    made_up = _made_up(_held(work, 1), lambda held: work.truth.breathing_leak_at(work.day, held))
    return [*made_up, *_decay(work)] if work.decays else made_up


def apl_valve(work):
    """Read the open valve at the flows of the limits, and hold the closed one; the disc lifts as the flow grows."""
    entries = []
    for row, (litres, pressure) in enumerate(((3, 110.0), (10, 140.0), (30, 200.0))):
        entries += [
            Entry("open", litres * LITRE_PER_MINUTE, row=row, column="flow"),
            Entry("open", pressure, row=row, column="pressure"),
        ]
    return [*entries, Entry("leak_flow", 9 * ML_PER_MINUTE), Entry("leak_pressure", _held(work, 1))]


def one_way_valves(work):
    """Read each valve at 60 L/min forwards, and what passes it at 40 cmH2O backwards."""
    entries = []
    for side, pressure in (("inspiratory", 180.0), ("expiratory", 210.0)):
        entries += [
            Entry(f"{side}_forward", 60 * LITRE_PER_MINUTE, column="flow"),
            Entry(f"{side}_forward", pressure, column="pressure"),
            Entry(f"{side}_reverse_flow", work.rng.uniform(2, 12) * ML_PER_MINUTE),
            Entry(f"{side}_reverse_pressure", 3950.0),
        ]
    return entries


def scavenging(work):
    """Read the extract through a test device, and the relief with the flush and with the least oxygen flow."""
    return [
        Entry("kind", word="bs6834"),
        Entry("extract_flow", work.rng.uniform(95, 115) * LITRE_PER_MINUTE),
        Entry("extract_drop", 2000.0),
        Entry("highest_pressure", 300.0),
        Entry("inflow", work.truth.flush_m3_s),
        Entry("lowest_pressure", 10.0),
    ]


def _held(work, sign):
    """Return the test pressure as a hand on a needle valve holds it."""
    return sign * TEST_PRESSURE_PA * work.rng.uniform(0.99, 1.03)


def _made_up(held, leak):
    return [Entry("makeup_flow", leak(held)), Entry("makeup_pressure", held)]


def _decay(work):
    """Stop the flow and watch the pressure fall, with the gas temperature at both ends; the flow gives the capacity."""
    kelvin, warmer = work.rng.uniform(293, 296), work.rng.uniform(-0.15, 0.15)
    times = (0.0, 10.0, 20.0, 30.0)
    pressures = decay_pressures(
        times, start=3250.0, volume_m3=work.truth.breathing_volume_m3, kelvin=kelvin, kelvin_per_s=warmer / times[-1],
        at_3_kpa=work.truth.breathing_leak_at(work.day), ambient_abs=work.truth.ambient_abs,
    )  # fmt: skip
    entries = [Entry("method", word="decay"), Entry("capacity", word="make-up")]
    for row, (time, pressure) in enumerate(zip(times, pressures, strict=True)):
        entries += [Entry("decay", time, row=row, column="time"), Entry("decay", pressure, row=row, column="pressure")]
    return [*entries, Entry("temperature_start", kelvin), Entry("temperature_end", kelvin + warmer)]


def oxygen_mixture(work):
    truth, least = work.truth, work.truth.fraction_at(work.day)
    asked = 1.0 if work.habit == "nothing to limit" else 0.1
    too_soon = 0.06 if work.habit == "analyser read too soon" else 0.0
    entries = []
    for row, litres in enumerate((1, 3, 6)):
        other = litres * LITRE_PER_MINUTE
        oxygen = truth.mixed(asked * other, other, min(1, least + work.rng.uniform(0, 0.012)))
        entries += [
            Entry("grid", other * asked, row=row, column="oxygen_set", own=True),
            Entry("grid", other, row=row, column="other_set", own=True),
            Entry("grid", oxygen, row=row, column="oxygen_flow"),
            Entry("grid", other, row=row, column="other_flow"),
            Entry("grid", oxygen / (oxygen + other) + too_soon, row=row, column="oxygen_fraction"),
        ]
    stops = 0.0 if truth.has_ratio and not truth.has("worn link", work.day) else 0.6 * LITRE_PER_MINUTE
    offered = Entry("oxygen_off_set", SET_FLOW, own=True)
    return [*entries, Entry("oxygen_off_flow", stops), offered, Entry("control_moves", word="yes")]


def oxygen_flush(work):
    return [Entry("flow", work.truth.flush_m3_s), Entry("stops_on_release", word="yes")]


def oxygen_analyser(work):
    drift = work.truth.analyser_error + work.rng.gauss(0, 0.002)
    return [
        Entry("air_reading", 0.2095 + drift, own=True),
        Entry("flush_reading", min(1.0, 0.985 + drift), own=True),
        Entry("low_alarm_works", word="yes"),
    ]


def earth_and_insulation(work):
    if work.truth.electrical_rules == "us":
        return [
            Entry("rules", word="us"),
            Entry("earth_total", work.rng.uniform(0.08, 0.16)),
            Entry("test_current", 10.0, own=True),
            Entry("cord_moved", word="yes"),
        ]
    return [
        Entry("earth_total", work.rng.uniform(0.08, 0.16)),
        Entry("test_current", 10.0, own=True),
        Entry("cord_moved", word="yes"),
        Entry("insulation", work.rng.uniform(40e6, 150e6)),
        Entry("test_voltage", 500.0, own=True),
        Entry("switched_on", word="yes"),
    ]


def leakage_currents(work):
    if work.truth.electrical_rules == "us":
        return [
            Entry("rules", word="us"),
            Entry("tested_before", word="yes"),
            Entry("switched_on", word="yes"),
            Entry("mains_voltage", work.rng.uniform(117, 123)),
            Entry("nominal_voltage", 120.0, own=True),
            Entry("touch_intact", work.rng.uniform(20e-6, 70e-6)),
            Entry("touch_open", work.rng.uniform(90e-6, 260e-6)),
        ]
    return [
        Entry("tested_before", word="yes"),
        Entry("switched_on", word="yes"),
        Entry("mains_voltage", work.rng.uniform(224, 236)),
        Entry("nominal_voltage", 230.0, own=True),
        Entry("equipment_leakage", work.rng.uniform(90e-6, 260e-6)),
    ]


def flowmeter(work):
    """Read a tube of 10 L/min over its scale; thinner air lets more of it pass than the float shows."""
    thinner = (SEA_LEVEL_PA / work.truth.ambient_abs) ** 0.5
    entries = [Entry("full_scale", ENOUGH_FLOW, own=True), Entry("vaporizers_off", word="yes")]
    for row, litres in enumerate((0.5, 1, 2.5, 5, 10)):
        passed = litres * LITRE_PER_MINUTE * thinner * work.rng.uniform(0.98, 1.02)
        entries += [
            Entry("errors", litres * LITRE_PER_MINUTE, row=row, column="set", own=True),
            Entry("errors", passed, row=row, column="reference"),
        ]
    return entries


def basal_flow(work):
    return [Entry("flow", work.rng.uniform(180, 240) * ML_PER_MINUTE), Entry("controls_closed", word="yes")]


def vaporizer_output(work):
    """Read a vaporizer with a bypass from a low setting to a high one; thinner air holds a greater share of vapour."""
    share = SEA_LEVEL_PA / work.truth.ambient_abs
    entries = [Entry("maximum", 0.05, own=True), Entry("flow", 5 * LITRE_PER_MINUTE, own=True)]
    for row, dial in enumerate((0.005, 0.01, 0.02, 0.04)):
        vapour = dial * share * work.rng.uniform(0.97, 1.03)
        entries += [Entry("outputs", dial, row=row, column="dial", own=True),
                    Entry("outputs", vapour, row=row, column="measured")]  # fmt: skip
    return [*entries, Entry("off_output", 0.0)]


def ventilator_volume(work):
    """Ventilate a test lung through hoses with little fresh gas, which joins each breath."""
    rate, share, fresh, hoses = 0.2, 1 / 3, 0.3 * LITRE_PER_MINUTE, 1.5e-6 / CM_H2O
    entries = [Entry("decoupled", word="no"), Entry("rate_set", rate, own=True), Entry("rate", rate)]
    entries += [Entry("inspiratory_share", share, own=True), Entry("fresh_gas", fresh), Entry("compliance", hoses)]
    entries += [Entry("peep_set", 5 * CM_H2O, own=True), Entry("peep", 5 * CM_H2O), Entry("peak", 28 * CM_H2O)]
    entries += [Entry("peak_shown", 28.5 * CM_H2O, own=True), Entry("full_scale", 100 * CM_H2O, own=True)]
    for row, (litres, plateau) in enumerate(((0.7, 26), (0.5, 21), (0.35, 17))):
        arrives = litres / 1000 + fresh * share / rate - hoses * (plateau - 5) * CM_H2O
        entries += [Entry("volumes", litres / 1000, row=row, column="set", own=True),
                    Entry("volumes", arrives * work.rng.uniform(0.98, 1.02), row=row, column="measured"),
                    Entry("volumes", plateau * CM_H2O, row=row, column="plateau")]  # fmt: skip
    return entries


def gas_monitor(work):
    """Read a capnograph in room air and in a certified gas of 5 %."""
    entries = []
    for row, (reference, certificate) in enumerate(((0.0, None), (0.05, 0.01))):
        entries.append(Entry("co2", reference, row=row, column="reference", own=True))
        if certificate:
            entries.append(Entry("co2", certificate, row=row, column="certificate", own=True))
        shown = reference * work.rng.uniform(0.97, 1.03)
        entries.append(Entry("co2", shown, row=row, column="shown", own=True))
    return entries


def monitor_readings(work):
    """Read the machine's own displays beside a tester at three settings."""
    entries = [Entry("full_scale", 100 * CM_H2O, own=True)]
    pairs = (("volumes", (0.3e-3, 0.5e-3, 0.7e-3)), ("pressures", (10 * CM_H2O, 20 * CM_H2O, 35 * CM_H2O)))
    for table, levels in pairs:
        for row, level in enumerate(levels):
            shown = level * work.rng.uniform(0.97, 1.03)
            entries += [Entry(table, level, row=row, column="reference"),
                        Entry(table, shown, row=row, column="shown", own=True)]  # fmt: skip
    return entries


def observation(work):
    fault = FAULT_SEEN.get(work.step.code)
    return [Entry("seen", word="no" if fault and work.truth.has(fault, work.day) else "yes")]


WORK = {
    **closed_volume_work.WORK,
    "pipeline-supply": pipeline_supply,
    "supply-failure": supply_failure,
    "regulator": regulator,
    "low-pressure-leak": low_pressure_leak,
    "breathing-system-leak": breathing_system_leak,
    "apl-valve": apl_valve,
    "one-way-valves": one_way_valves,
    "scavenging": scavenging,
    "oxygen-mixture": oxygen_mixture,
    "oxygen-flush": oxygen_flush,
    "oxygen-analyser": oxygen_analyser,
    "earth-and-insulation": earth_and_insulation,
    "leakage-currents": leakage_currents,
    "flowmeter": flowmeter,
    "basal-flow": basal_flow,
    "vaporizer-output": vaporizer_output,
    "ventilator-volume": ventilator_volume,
    "vaporizer-safety": vaporizer_safety,
    "battery": battery,
    "suction": suction,
    "connectors": connectors,
    "exposure": exposure,
    "two-bag": two_bag,
    "absorber": absorber,
    "gas-monitor": gas_monitor,
    "monitor-readings": monitor_readings,
    "alarms": alarms,
    "observation": observation,
}
