"""One example of readings for each test, as the command line takes it. All numbers are invented."""

from collections.abc import Mapping
from types import MappingProxyType

from .example_readings import (
    ANALYSER,
    BALANCE,
    CO2,
    CONE_GAUGES,
    CYLINDER_GAUGE,
    FINE_GAUGE,
    FLOWMETER,
    FORCE_GAUGE,
    GAUGE,
    INFRARED,
    LUNG,
    MANOMETER,
    SAFETY_TESTER,
    SYRINGE,
    THERMOMETER,
    VACUUM_GAUGE,
    VAPOUR,
    WATCH,
    breath,
    bulb,
    certified,
    cm,
    cone,
    fine,
    flow,
    lung,
    no,
    output,
    pair,
    percent,
    ppm,
    psi,
    stated,
    tested,
    time,
    vacuum,
    warm,
    yes,
)


def _table(columns: tuple[str, ...], make: tuple, *rows: tuple[float, ...]) -> list[dict]:
    return [{column: of(value) for column, of, value in zip(columns, make, row, strict=True)} for row in rows]


def _example(code: str, instruments: list[dict], **given) -> dict:
    surroundings = {"ambient_kpa_abs": 101.325, "temperature_c": 21, "built_year": 1996}
    return {"test": code, "context": surroundings, "instruments": instruments, **given}


def _leak(code: str, volume_ml: float, sign: int = 1, **choices: str) -> dict:
    decay = ((0, 31.0), (15, 30.2), (30, 29.4), (45, 28.7), (60, 27.9))
    volume = {"value": volume_ml, "unit": "mL", "instrument": "S-1"}
    return _example(
        code, [MANOMETER, WATCH, SYRINGE],
        choices={"method": "decay", "capacity": "stated", "at": "3 kPa", **choices},
        values={"rigid_volume": volume},
        tables={"decay": _table(("time", "pressure"), (time, cm), *((time, sign * held) for time, held in decay))},
    )  # fmt: skip


def _grid_row(oxygen: float, other_set: float, other: float, fraction: float) -> dict:
    return {
        "oxygen_set": flow(oxygen), "other_set": flow(other_set), "other_flow": flow(other),
        "oxygen_fraction": percent(fraction),
    }  # fmt: skip


EXAMPLES: Mapping[str, dict] = MappingProxyType(
    {
        one["test"]: one
        for one in (
            _example(
                "supply-failure", [GAUGE, FLOWMETER, WATCH], rule={"trip_pressure": "trip-25"},
                choices={"kind": "shut-off"},
                values={"full_pressure": psi(50), "set_flow": flow(5), "alarm_pressure": psi(29.5),
                        "alarm_delay": time(2)},
                tables={
                    "falling": _table(("pressure", "flow"), (psi, flow), (40, 5), (30, 4.9), (27, 4.8), (26, 4.1),
                                      (25, 1.5), (24, 0), (15, 0)),
                    "rising": _table(("pressure", "flow"), (psi, flow), (15, 0), (26, 0.2), (27, 3.4), (30, 4.9),
                                     (50, 5)),
                },
            ),
            _example(
                "regulator", [GAUGE, CYLINDER_GAUGE, FLOWMETER, WATCH],
                values={"static_pressure": psi(45.4), "inlet_pressure": {**psi(1700), "instrument": "C-4"},
                        "pipeline_pressure": psi(50.3),
                        "pipeline_flowing_pressure": psi(48.9), "lockup_pressure": psi(45.6)},
                tables={
                    "flowing": _table(("flow", "pressure"), (flow, psi), (2, 44.6), (5, 44), (10, 43.1), (15, 42)),
                    "creep": _table(("time", "pressure"), (time, psi), (0, 45.4), (120, 45.5), (300, 45.6)),
                },
            ),
            _example("pipeline-supply", [GAUGE], rule={"pressure": "fda92"},
                     values={"pressure": psi(48), "flowing_pressure": psi(46.5),
                             "flow": {"value": 10, "unit": "L/min"}}),
            _example(
                "cylinder-content", [CYLINDER_GAUGE, THERMOMETER, BALANCE],
                choices={"gas": "oxygen", "drive": "driven"},
                values={"pressure": {**psi(1650), "instrument": "C-4"}, "gas_temperature": warm(19.5),
                        "water_capacity": stated(4.7, "L"),
                        "gross_mass": {"value": 7.31, "unit": "kg", "instrument": "B-2"}, "tare": stated(6.55, "kg"),
                        "flow": stated(2, "L/min"), "driving_flow": stated(7, "L/min"),
                        "reserve_pressure": stated(500, "kPa")},
            ),
            _example(
                "pressure-gauge", [FINE_GAUGE], choices={"accuracy_class": "2.5"},
                values={"full_scale": stated(20000, "kPa"), "division": stated(500, "kPa"),
                        "zero_after": stated(50, "kPa")},
                tables={
                    "rising": _table(("reference", "shown"), (fine, lambda kpa: stated(kpa, "kPa")),
                                     (3890, 4000), (7930, 8000), (14020, 14000), (19030, 19000)),
                    "falling": _table(("reference", "shown"), (fine, lambda kpa: stated(kpa, "kPa")),
                                      (13850, 14000), (7740, 8000), (3760, 4000)),
                },
            ),
            _example(
                "high-pressure-leak", [FINE_GAUGE, WATCH, THERMOMETER],
                choices={"section": "inlet", "gas": "oxygen"},
                values={"volume": stated(120, "mL"), "volume_within": stated(15, "mL")},
                tables={"decay": _table(("time", "pressure", "temperature"), (time, fine, warm), (0, 412, 21.4),
                                        (120, 399, 21.3), (240, 387, 21.3))},
            ),
            _leak("low-pressure-leak", 1000, -1, outlet_valve="fitted", vaporizer_count="0"),
            _example(
                "negative-pressure-leak", [WATCH, MANOMETER], choices={"vaporizer_count": "2"},
                values={"bulb_holds": yes(), "controls_closed": yes(), "bulb_volume": stated(50, "mL")},
                tables={"positions": [bulb(16), bulb(15.5), bulb(6.5, 6.2)]},
            ),
            _leak("breathing-system-leak", 5000),
            _example(
                "breathing-compliance", [MANOMETER, WATCH, SYRINGE], choices={"capacity": "injected"},
                values={"injected_volume": {"value": 100, "unit": "mL", "instrument": "S-1"},
                        "injected_before": cm(0), "injected_after": cm(14.6), "rigid_volume": stated(4.5, "L"),
                        "hold_start": cm(30.4), "hold_end": cm(29.9), "hold_time": time(12)},
            ),
            _example(
                "apl-valve", [MANOMETER, FLOWMETER], rule={"pressure_30": "iso8835-apl"},
                values={"leak_flow": flow(12, "mL/min"), "leak_pressure": cm(30.5)},
                tables={
                    "open": _table(("flow", "pressure"), (flow, cm), (3, 1.1), (10, 1.4), (20, 1.8), (30, 2.1)),
                    "settings": [{"setting": {"value": mark, "unit": "cmH2O", "zero": "gauge"}, "opening": cm(found)}
                                 for mark, found in ((10, 11.2), (30, 31.5), (60, 57))],
                },
            ),
            _example(
                "one-way-valves", [MANOMETER, FLOWMETER], choices={"reverse": "flow"},
                values={f"{side}_reverse_{key}": one for side in ("inspiratory", "expiratory")
                        for key, one in (("flow", flow(8, "mL/min")), ("pressure", cm(40)))},
                tables={
                    "inspiratory_forward": _table(("flow", "pressure"), (flow, cm), (20, 0.6), (40, 1.5)),
                    "expiratory_forward": _table(("flow", "pressure"), (flow, cm), (60, 3.2)),
                },
            ),
            _example(
                "scavenging", [MANOMETER, FLOWMETER], choices={"kind": "bs6834"},
                values={"extract_flow": flow(104), "extract_drop": cm(20), "highest_pressure": cm(3.2),
                        "inflow": flow(52), "lowest_pressure": cm(-0.2), "blocked_pressure": cm(9.4),
                        "blocked_inflow": flow(75)},
            ),
            _example(
                "oxygen-mixture", [FLOWMETER, ANALYSER], choices={"other_gas": "nitrous oxide"},
                values={"oxygen_off_flow": flow(0, "mL/min"), "oxygen_off_set": {"value": 4, "unit": "L/min"}},
                tables={"grid": [_grid_row(1, 2, 2, 33.5), _grid_row(1, 6, 2.6, 27.9), _grid_row(0.5, 6, 1.3, 27.6)]},
            ),
            _example(
                "flowmeter", [FLOWMETER], choices={"convention": "as read", "tube_gas": "oxygen"},
                values={"full_scale": {"value": 10, "unit": "L/min"}, "division": {"value": 0.1, "unit": "L/min"},
                        "vaporizers_off": yes()},
                tables={"errors": [{"set": {"value": shown, "unit": "L/min"}, "reference": flow(true)}
                                   for shown, true in ((0.5, 0.58), (1, 1.03), (2.5, 2.58), (5, 5.1), (10, 10.1))]},
            ),
            _example("basal-flow", [FLOWMETER], choices={"type": "usual"},
                     values={"flow": flow(210, "mL/min"), "controls_closed": yes()}),
            _example("oxygen-flush", [FLOWMETER], rule={"flush_flow": "us-35-75"},
                     values={"flow": flow(52), "stops_on_release": yes()}),
            _example("oxygen-analyser", [], values={
                "air_reading": {"value": 21.2, "unit": "%"}, "flush_reading": {"value": 97, "unit": "%"},
                "low_alarm_works": yes()}),
            _example(
                "gas-monitor", [WATCH],
                choices={"monitor": "infrared", "co2_shows": "saturated", "substance": "sevoflurane"},
                values={"response": time(3.1)},
                tables={
                    "co2_pressure": [certified(0, None, 0, "mmHg", "shown_pressure"),
                                     certified(5, 1, 37, "mmHg", "shown_pressure")],
                    "n2o": [certified(0, None, 0), certified(40, 1, 41)],
                    "agent": [certified(0, None, 0), certified(2, 2, 2.1)],
                },
            ),
            _example(
                "earth-and-insulation", [SAFETY_TESTER],
                choices={"rules": "international", "protection_class": "I", "cord": "detachable", "applied_part": "BF"},
                values={"earth_total": tested(190, "mΩ"), "earth_device": tested(120, "mΩ"),
                        "earth_cord": tested(65, "mΩ"), "earth_reference": tested(180, "mΩ"),
                        "test_current": stated(10, "A"), "cord_moved": yes(), "insulation": tested(85, "MΩ"),
                        "insulation_applied": tested(150, "MΩ"), "test_voltage": stated(500, "V"),
                        "switched_on": yes()},
            ),
            _example(
                "leakage-currents", [SAFETY_TESTER],
                choices={"rules": "international", "protection_class": "I", "method": "direct", "applied_part": "BF"},
                values={"tested_before": yes(), "switched_on": yes(), "mains_voltage": tested(226.4, "V"),
                        "nominal_voltage": stated(230, "V"), "equipment_leakage": tested(212, "µA"),
                        "equipment_leakage_reversed": tested(205, "µA"), "applied_leakage": tested(640, "µA"),
                        "equipment_reference": tested(198, "µA")},
            ),
            _example(
                "vaporizer-output", [VAPOUR],
                choices={"type": "variable bypass", "agent": "isoflurane", "carrier": "oxygen", "rule": "symmetric"},
                values={"maximum": {"value": 5, "unit": "%"}, "flow": {"value": 5, "unit": "L/min"},
                        "off_output": {"value": 0.01, "unit": "%", "instrument": "A-8"}},
                tables={"outputs": [output(0.5, 0.56), output(1, 1.08), output(2, 2.05), output(4, 3.82)]},
            ),
            _example(
                "ventilator-volume", [LUNG, FLOWMETER],
                choices={"decoupled": "no", "hoses": "stated", "conditions": "as read"},
                values={"rate_set": {"value": 12, "unit": "1/min"}, "rate": lung(12.1, "1/min"),
                        "inspiratory_share": {"value": 33.3, "unit": "%"}, "fresh_gas": flow(0.5),
                        "compliance": {"value": 2.5, "unit": "mL/cmH2O"}, "peep_set": {"value": 5, "unit": "cmH2O"},
                        "peep": lung(5.2, "cmH2O"), "peak": lung(29.4, "cmH2O"),
                        "peak_shown": {"value": 30, "unit": "cmH2O"}, "full_scale": {"value": 100, "unit": "cmH2O"}},
                tables={"volumes": [breath(700, 664, 26), breath(500, 473, 20), breath(300, 288, 14)]},
            ),
            _example(
                "vaporizer-safety", [VAPOUR], choices={"state": "usual"},
                values={"positions": stated(3, "no."),
                        "on_output": {"value": 2.05, "unit": "%", "instrument": "A-8"},
                        "off_leak": {"value": 0.01, "unit": "%", "instrument": "A-8"}},
                tables={"pairs": [pair(1, 2), pair(1, 3), pair(2, 3)],
                        "fillers": [{"position": stated(one, "no."), "accepts": yes(), "refuses": yes(),
                                     "tight": yes()} for one in (1, 2)]},
            ),
            _example(
                "battery", [WATCH], choices={"start": "timed", "load": "in use", "ended": "off"},
                values={"charged_for": stated(14, "h"), "charge_time": stated(10, "h"), "run_time": time(3120),
                        "rated_time": stated(60, "min"), "reserve": time(480), "alarm_sounded": yes()},
            ),
            _example(
                "suction", [VACUUM_GAUGE, FLOWMETER, WATCH], choices={"kind": "theatre"},
                values={"fully_open": yes(), "vacuum": vacuum(-62), "free_flow": flow(46), "rise_time": time(2.4),
                        "timed_to": vacuum(-40)},
            ),
            _example(
                "connectors", [CONE_GAUGES, FORCE_GAUGE], choices={"inlets": "nitrous"},
                values={"hose_fits": no(), "oxygen_on_nitrous": no(), "nitrous_on_oxygen": no(),
                        "pushed_home": yes()},
                tables={"male": [cone(15), cone(22), cone(30)], "female": [cone(15), cone(22)],
                        "pulls": [{"force": {"value": 55, "unit": "N", "instrument": "N-1"}, "came_off": no()}]},
            ),
            _example(
                "exposure", [INFRARED, WATCH], choices={"gas": "nitrous_oxide"},
                values={"breathing_zone": yes(), "gas_time": stated(150, "min")},
                tables={"intervals": [{"duration": stated(minutes, "min"), "concentration": ppm(found)}
                                      for minutes, found in ((20, 38), (60, 14), (45, 9), (25, 22))]},
            ),
            _example(
                "two-bag", [MANOMETER],
                values={"fresh_gas": stated(5, "L/min"), "flows_both_ways": yes(), "valves_move": yes(),
                        "apl_releases": yes(), "volume_kept": yes(), "rest_pressure": cm(1.2)},
            ),
            _example(
                "absorber", [CO2, MANOMETER, FLOWMETER],
                values={"inspired": {"value": 0.1, "unit": "%", "instrument": "A-9"},
                        "expired": {"value": 4.8, "unit": "%", "instrument": "A-9"}, "sealed": yes(),
                        "colour_fresh": yes(), "bypass_shut": yes(), "age": stated(12, "d")},
                tables={"through": _table(("flow", "pressure"), (flow, cm), (30, 0.9), (60, 2.4))},
            ),
            _example(
                "monitor-readings", [LUNG], choices={"displays": "both", "rule": "anaesthesia"},
                values={"full_scale": stated(100, "cmH2O")},
                tables={
                    "volumes": [{"reference": lung(true, "mL"), "shown": stated(shown, "mL")}
                                for true, shown in ((302, 310), (497, 521), (703, 742))],
                    "pressures": [{"reference": lung(true, "cmH2O"), "shown": stated(shown, "cmH2O")}
                                  for true, shown in ((10.2, 11), (20.1, 21), (39.6, 41))],
                },
            ),
            _example(
                "alarms", [MANOMETER, WATCH], choices={"alarm": "high-pressure"},
                values={"sounds": yes(), "returns": yes()},
                tables={"high_pressure_trials": [
                    {"set": stated(40, "cmH2O"), "sounded": cm(sounded), "delay": time(took)}
                    for sounded, took in ((41.2, 0.8), (40.6, 1.1))
                ]},
            ),
            _example("observation", [], choices={"wanted": "yes"}, values={"seen": yes()}),
        )
    }
)  # fmt: skip
