"""One example of readings for each test, as the command line takes it. All numbers are invented."""

from collections.abc import Mapping
from types import MappingProxyType

_GAUGE = {
    "code": "G-14", "name": "pressure gauge 0 to 100 psi",
    "scales": [{"unit": "psi", "low": 0, "high": 100, "resolution": 0.1, "accuracy": {"of_span": 0.0025}}],
}  # fmt: skip
_CYLINDER_GAUGE = {
    "code": "C-4", "name": "cylinder gauge",
    "scales": [{"unit": "psi", "low": 0, "high": 3000, "resolution": 5, "accuracy": {"of_span": 0.005}}],
}  # fmt: skip
_FLOWMETER = {
    "code": "F-2", "name": "flow analyser",
    "scales": [
        {"unit": "mL/min", "low": 0, "high": 500, "resolution": 1, "accuracy": {"of_reading": 0.02, "absolute": 1}},
        {"unit": "L/min", "low": 0, "high": 200, "resolution": 0.01, "accuracy": {"of_reading": 0.02}},
    ],
}  # fmt: skip
_MANOMETER = {
    "code": "M-3", "name": "low-pressure manometer",
    "scales": [{"unit": "cmH2O", "low": -100, "high": 100, "resolution": 0.1, "accuracy": {"of_reading": 0.01}}],
}  # fmt: skip
_WATCH = {
    "code": "W-1", "name": "stopwatch",
    "scales": [{"unit": "s", "low": 0, "high": 3600, "resolution": 0.1,
                "accuracy": {"absolute": 0.5, "coverage_factor": 0}}],
}  # fmt: skip
_SYRINGE = {
    "code": "S-1", "name": "calibration syringe",
    "scales": [{"unit": "mL", "low": 0, "high": 6000, "resolution": 10, "accuracy": {"of_reading": 0.005}}],
}  # fmt: skip
_ANALYSER = {
    "code": "A-5", "name": "oxygen analyser of the workshop",
    "scales": [{"unit": "%", "low": 0, "high": 100, "resolution": 0.1, "accuracy": {"absolute": 0.5}}],
}  # fmt: skip
_SAFETY_TESTER = {
    "code": "E-9", "name": "electrical safety tester",
    "scales": [
        {"unit": "mΩ", "low": 0, "high": 2000, "resolution": 1, "accuracy": {"of_reading": 0.02, "absolute": 1}},
        {"unit": "MΩ", "low": 0.1, "high": 200, "resolution": 0.1, "accuracy": {"of_reading": 0.03}},
        {"unit": "µA", "low": 0, "high": 10000, "resolution": 1, "accuracy": {"of_reading": 0.02, "absolute": 1}},
        {"unit": "V", "low": 0, "high": 300, "resolution": 0.1, "accuracy": {"of_reading": 0.01}},
    ],
}  # fmt: skip


_LUNG = {
    "code": "V-6", "name": "ventilator tester",
    "scales": [
        {"unit": "mL", "low": 0, "high": 2000, "resolution": 1, "accuracy": {"of_reading": 0.02, "absolute": 2}},
        {"unit": "cmH2O", "low": -20, "high": 120, "resolution": 0.1, "accuracy": {"of_reading": 0.01}},
        {"unit": "1/min", "low": 1, "high": 150, "resolution": 0.1, "accuracy": {"of_reading": 0.01}},
    ],
}  # fmt: skip


def _lung(value: float, unit: str) -> dict:
    return {"value": value, "unit": unit, "instrument": "V-6"}


def _breath(set_to: float, measured: float, plateau: float) -> dict:
    return {"set": {"value": set_to, "unit": "mL"}, "measured": _lung(measured, "mL"),
            "plateau": _lung(plateau, "cmH2O")}  # fmt: skip


_VAPOUR = {
    "code": "A-8", "name": "vapour analyser of the workshop",
    "scales": [{"unit": "%", "low": 0, "high": 20, "resolution": 0.01,
                "accuracy": {"of_reading": 0.02, "absolute": 0.02}}],
}  # fmt: skip


_FORCE_GAUGE = {
    "code": "N-1", "name": "force gauge",
    "scales": [{"unit": "N", "low": 0, "high": 200, "resolution": 0.1, "accuracy": {"of_reading": 0.01}}],
}  # fmt: skip
_CONE_GAUGES = {
    "code": "T-2", "name": "taper gauges 15 to 30 mm",
    "scales": [{"unit": "mm", "low": 8, "high": 31, "resolution": 0.001, "accuracy": {"absolute": 0.005}}],
}  # fmt: skip
_VACUUM_GAUGE = {
    "code": "P-7", "name": "vacuum gauge",
    "scales": [{"unit": "kPa", "low": -100, "high": 0, "resolution": 0.1, "accuracy": {"of_span": 0.01}}],
}  # fmt: skip
_INFRARED = {
    "code": "I-3", "name": "infrared analyser for room air",
    "scales": [{"unit": "ppm", "low": 0, "high": 1000, "resolution": 0.1,
                "accuracy": {"of_reading": 0.05, "absolute": 0.5}}],
}  # fmt: skip
_CO2 = {
    "code": "A-9", "name": "carbon dioxide analyser",
    "scales": [{"unit": "%", "low": 0, "high": 12, "resolution": 0.01,
                "accuracy": {"of_reading": 0.02, "absolute": 0.03}}],
}  # fmt: skip


def _output(dial: float, measured: float) -> dict:
    return {"dial": {"value": dial, "unit": "%"}, "measured": {"value": measured, "unit": "%", "instrument": "A-8"}}


_FINE_GAUGE = {
    "code": "R-7", "name": "reference gauge",
    "scales": [{"unit": "kPa", "low": 0, "high": 20000, "resolution": 1, "accuracy": {"of_span": 0.0005}}],
}  # fmt: skip
_THERMOMETER = {
    "code": "T-8", "name": "surface thermometer",
    "scales": [{"unit": "°C", "low": -20, "high": 80, "resolution": 0.1, "accuracy": {"absolute": 0.2}}],
}  # fmt: skip
_BALANCE = {
    "code": "B-2", "name": "balance",
    "scales": [{"unit": "kg", "low": 0, "high": 60, "resolution": 0.01, "accuracy": {"absolute": 0.02}}],
}  # fmt: skip


def _fine(value: float) -> dict:
    return {"value": value, "unit": "kPa", "zero": "gauge", "instrument": "R-7"}


def _warm(value: float) -> dict:
    return {"value": value, "unit": "°C", "instrument": "T-8"}


def _certified(
    reference: float, certificate: float | None, shown: float, unit: str = "%", column: str = "shown"
) -> dict:
    row = {"reference": {"value": reference, "unit": "%"}, column: {"value": shown, "unit": unit}}
    return row if certificate is None else {**row, "certificate": {"value": certificate, "unit": "%"}}


def _psi(value: float) -> dict:
    return {"value": value, "unit": "psi", "zero": "gauge", "instrument": "G-14"}


def _cm(value: float) -> dict:
    return {"value": value, "unit": "cmH2O", "zero": "gauge", "instrument": "M-3"}


def _flow(value: float, unit: str = "L/min") -> dict:
    return {"value": value, "unit": unit, "instrument": "F-2"}


def _time(value: float) -> dict:
    return {"value": value, "unit": "s", "instrument": "W-1"}


def _percent(value: float) -> dict:
    return {"value": value, "unit": "%", "instrument": "A-5"}


def _tested(value: float, unit: str) -> dict:
    return {"value": value, "unit": unit, "instrument": "E-9"}


def _stated(value: float, unit: str) -> dict:
    return {"value": value, "unit": unit}


def _yes() -> dict:
    return {"value": 1, "unit": "yes/no"}


def _bulb(watched: float, opened: float | None = None) -> dict:
    times = {"watched": _time(watched), "suction": _cm(-64)}
    return times if opened is None else {**times, "opened": _time(opened)}


def _no() -> dict:
    return {"value": 0, "unit": "yes/no"}


def _pair(first: int, second: int) -> dict:
    return {"first": _stated(first, "no."), "second": _stated(second, "no."), "second_opens": _no(),
            "first_opens": _no()}  # fmt: skip


def _cone(size: float) -> dict:
    return {"size": {"value": size, "unit": "mm", "instrument": "T-2"}, "fits": _yes(), "sound": _yes()}


def _vacuum(value: float) -> dict:
    return {"value": value, "unit": "kPa", "zero": "gauge", "instrument": "P-7"}


def _ppm(value: float) -> dict:
    return {"value": value, "unit": "ppm", "instrument": "I-3"}


def _table(columns: tuple[str, ...], make: tuple, *rows: tuple[float, ...]) -> list[dict]:
    return [{column: of(value) for column, of, value in zip(columns, make, row, strict=True)} for row in rows]


def _example(code: str, instruments: list[dict], **given) -> dict:
    surroundings = {"ambient_kpa_abs": 101.325, "temperature_c": 21, "built_year": 1996}
    return {"test": code, "context": surroundings, "instruments": instruments, **given}


def _leak(code: str, volume_ml: float, sign: int = 1, **choices: str) -> dict:
    decay = ((0, 31.0), (15, 30.2), (30, 29.4), (45, 28.7), (60, 27.9))
    volume = {"value": volume_ml, "unit": "mL", "instrument": "S-1"}
    return _example(
        code, [_MANOMETER, _WATCH, _SYRINGE],
        choices={"method": "decay", "capacity": "stated", "at": "3 kPa", **choices},
        values={"rigid_volume": volume},
        tables={"decay": _table(("time", "pressure"), (_time, _cm), *((time, sign * held) for time, held in decay))},
    )  # fmt: skip


def _grid_row(oxygen: float, other_set: float, other: float, fraction: float) -> dict:
    return {
        "oxygen_set": _flow(oxygen), "other_set": _flow(other_set), "other_flow": _flow(other),
        "oxygen_fraction": _percent(fraction),
    }  # fmt: skip


EXAMPLES: Mapping[str, dict] = MappingProxyType(
    {
        one["test"]: one
        for one in (
            _example(
                "supply-failure", [_GAUGE, _FLOWMETER, _WATCH], rule={"trip_pressure": "trip-25"},
                choices={"kind": "shut-off"},
                values={"full_pressure": _psi(50), "set_flow": _flow(5), "alarm_pressure": _psi(29.5),
                        "alarm_delay": _time(2)},
                tables={
                    "falling": _table(("pressure", "flow"), (_psi, _flow), (40, 5), (30, 4.9), (27, 4.8), (26, 4.1),
                                      (25, 1.5), (24, 0), (15, 0)),
                    "rising": _table(("pressure", "flow"), (_psi, _flow), (15, 0), (26, 0.2), (27, 3.4), (30, 4.9),
                                     (50, 5)),
                },
            ),
            _example(
                "regulator", [_GAUGE, _CYLINDER_GAUGE, _FLOWMETER, _WATCH],
                values={"static_pressure": _psi(45.4), "inlet_pressure": {**_psi(1700), "instrument": "C-4"},
                        "pipeline_pressure": _psi(50.3),
                        "pipeline_flowing_pressure": _psi(48.9), "lockup_pressure": _psi(45.6)},
                tables={
                    "flowing": _table(("flow", "pressure"), (_flow, _psi), (2, 44.6), (5, 44), (10, 43.1), (15, 42)),
                    "creep": _table(("time", "pressure"), (_time, _psi), (0, 45.4), (120, 45.5), (300, 45.6)),
                },
            ),
            _example("pipeline-supply", [_GAUGE], rule={"pressure": "fda92"},
                     values={"pressure": _psi(48), "flowing_pressure": _psi(46.5),
                             "flow": {"value": 10, "unit": "L/min"}}),
            _example(
                "cylinder-content", [_CYLINDER_GAUGE, _THERMOMETER, _BALANCE],
                choices={"gas": "oxygen", "drive": "driven"},
                values={"pressure": {**_psi(1650), "instrument": "C-4"}, "gas_temperature": _warm(19.5),
                        "water_capacity": _stated(4.7, "L"),
                        "gross_mass": {"value": 7.31, "unit": "kg", "instrument": "B-2"}, "tare": _stated(6.55, "kg"),
                        "flow": _stated(2, "L/min"), "driving_flow": _stated(7, "L/min"),
                        "reserve_pressure": _stated(500, "kPa")},
            ),
            _example(
                "pressure-gauge", [_FINE_GAUGE], choices={"accuracy_class": "2.5"},
                values={"full_scale": _stated(20000, "kPa"), "division": _stated(500, "kPa"),
                        "zero_after": _stated(50, "kPa")},
                tables={
                    "rising": _table(("reference", "shown"), (_fine, lambda kpa: _stated(kpa, "kPa")),
                                     (3890, 4000), (7930, 8000), (14020, 14000), (19030, 19000)),
                    "falling": _table(("reference", "shown"), (_fine, lambda kpa: _stated(kpa, "kPa")),
                                      (13850, 14000), (7740, 8000), (3760, 4000)),
                },
            ),
            _example(
                "high-pressure-leak", [_FINE_GAUGE, _WATCH, _THERMOMETER],
                choices={"section": "inlet", "gas": "oxygen"},
                values={"volume": _stated(120, "mL"), "volume_within": _stated(15, "mL")},
                tables={"decay": _table(("time", "pressure", "temperature"), (_time, _fine, _warm), (0, 412, 21.4),
                                        (120, 399, 21.3), (240, 387, 21.3))},
            ),
            _leak("low-pressure-leak", 1000, -1, outlet_valve="fitted", vaporizer_count="0"),
            _example(
                "negative-pressure-leak", [_WATCH, _MANOMETER], choices={"vaporizer_count": "2"},
                values={"bulb_holds": _yes(), "controls_closed": _yes(), "bulb_volume": _stated(50, "mL")},
                tables={"positions": [_bulb(16), _bulb(15.5), _bulb(6.5, 6.2)]},
            ),
            _leak("breathing-system-leak", 5000),
            _example(
                "breathing-compliance", [_MANOMETER, _WATCH, _SYRINGE], choices={"capacity": "injected"},
                values={"injected_volume": {"value": 100, "unit": "mL", "instrument": "S-1"},
                        "injected_before": _cm(0), "injected_after": _cm(14.6), "rigid_volume": _stated(4.5, "L"),
                        "hold_start": _cm(30.4), "hold_end": _cm(29.9), "hold_time": _time(12)},
            ),
            _example(
                "apl-valve", [_MANOMETER, _FLOWMETER], rule={"pressure_30": "iso8835-apl"},
                values={"leak_flow": _flow(12, "mL/min"), "leak_pressure": _cm(30.5)},
                tables={
                    "open": _table(("flow", "pressure"), (_flow, _cm), (3, 1.1), (10, 1.4), (20, 1.8), (30, 2.1)),
                    "settings": [{"setting": {"value": mark, "unit": "cmH2O", "zero": "gauge"}, "opening": _cm(found)}
                                 for mark, found in ((10, 11.2), (30, 31.5), (60, 57))],
                },
            ),
            _example(
                "one-way-valves", [_MANOMETER, _FLOWMETER], choices={"reverse": "flow"},
                values={f"{side}_reverse_{key}": one for side in ("inspiratory", "expiratory")
                        for key, one in (("flow", _flow(8, "mL/min")), ("pressure", _cm(40)))},
                tables={
                    "inspiratory_forward": _table(("flow", "pressure"), (_flow, _cm), (20, 0.6), (40, 1.5)),
                    "expiratory_forward": _table(("flow", "pressure"), (_flow, _cm), (60, 3.2)),
                },
            ),
            _example(
                "scavenging", [_MANOMETER, _FLOWMETER], choices={"kind": "bs6834"},
                values={"extract_flow": _flow(104), "extract_drop": _cm(20), "highest_pressure": _cm(3.2),
                        "inflow": _flow(52), "lowest_pressure": _cm(-0.2), "blocked_pressure": _cm(9.4),
                        "blocked_inflow": _flow(75)},
            ),
            _example(
                "oxygen-mixture", [_FLOWMETER, _ANALYSER], choices={"other_gas": "nitrous oxide"},
                values={"oxygen_off_flow": _flow(0, "mL/min"), "oxygen_off_set": {"value": 4, "unit": "L/min"}},
                tables={"grid": [_grid_row(1, 2, 2, 33.5), _grid_row(1, 6, 2.6, 27.9), _grid_row(0.5, 6, 1.3, 27.6)]},
            ),
            _example(
                "flowmeter", [_FLOWMETER], choices={"convention": "as read", "tube_gas": "oxygen"},
                values={"full_scale": {"value": 10, "unit": "L/min"}, "division": {"value": 0.1, "unit": "L/min"},
                        "vaporizers_off": _yes()},
                tables={"errors": [{"set": {"value": shown, "unit": "L/min"}, "reference": _flow(true)}
                                   for shown, true in ((0.5, 0.58), (1, 1.03), (2.5, 2.58), (5, 5.1), (10, 10.1))]},
            ),
            _example("basal-flow", [_FLOWMETER], choices={"type": "usual"},
                     values={"flow": _flow(210, "mL/min"), "controls_closed": _yes()}),
            _example("oxygen-flush", [_FLOWMETER], rule={"flush_flow": "us-35-75"},
                     values={"flow": _flow(52), "stops_on_release": _yes()}),
            _example("oxygen-analyser", [], values={
                "air_reading": {"value": 21.2, "unit": "%"}, "flush_reading": {"value": 97, "unit": "%"},
                "low_alarm_works": _yes()}),
            _example(
                "gas-monitor", [_WATCH],
                choices={"monitor": "infrared", "co2_shows": "saturated", "substance": "sevoflurane"},
                values={"response": _time(3.1)},
                tables={
                    "co2_pressure": [_certified(0, None, 0, "mmHg", "shown_pressure"),
                                     _certified(5, 1, 37, "mmHg", "shown_pressure")],
                    "n2o": [_certified(0, None, 0), _certified(40, 1, 41)],
                    "agent": [_certified(0, None, 0), _certified(2, 2, 2.1)],
                },
            ),
            _example(
                "earth-and-insulation", [_SAFETY_TESTER],
                choices={"rules": "international", "protection_class": "I", "cord": "detachable", "applied_part": "BF"},
                values={"earth_total": _tested(190, "mΩ"), "earth_device": _tested(120, "mΩ"),
                        "earth_cord": _tested(65, "mΩ"), "earth_reference": _tested(180, "mΩ"),
                        "test_current": _stated(10, "A"), "cord_moved": _yes(), "insulation": _tested(85, "MΩ"),
                        "insulation_applied": _tested(150, "MΩ"), "test_voltage": _stated(500, "V"),
                        "switched_on": _yes()},
            ),
            _example(
                "leakage-currents", [_SAFETY_TESTER],
                choices={"rules": "international", "protection_class": "I", "method": "direct", "applied_part": "BF"},
                values={"tested_before": _yes(), "switched_on": _yes(), "mains_voltage": _tested(226.4, "V"),
                        "nominal_voltage": _stated(230, "V"), "equipment_leakage": _tested(212, "µA"),
                        "equipment_leakage_reversed": _tested(205, "µA"), "applied_leakage": _tested(640, "µA"),
                        "equipment_reference": _tested(198, "µA")},
            ),
            _example(
                "vaporizer-output", [_VAPOUR],
                choices={"type": "variable bypass", "agent": "isoflurane", "carrier": "oxygen", "rule": "symmetric"},
                values={"maximum": {"value": 5, "unit": "%"}, "flow": {"value": 5, "unit": "L/min"},
                        "off_output": {"value": 0.01, "unit": "%", "instrument": "A-8"}},
                tables={"outputs": [_output(0.5, 0.56), _output(1, 1.08), _output(2, 2.05), _output(4, 3.82)]},
            ),
            _example(
                "ventilator-volume", [_LUNG, _FLOWMETER],
                choices={"decoupled": "no", "hoses": "stated", "conditions": "as read"},
                values={"rate_set": {"value": 12, "unit": "1/min"}, "rate": _lung(12.1, "1/min"),
                        "inspiratory_share": {"value": 33.3, "unit": "%"}, "fresh_gas": _flow(0.5),
                        "compliance": {"value": 2.5, "unit": "mL/cmH2O"}, "peep_set": {"value": 5, "unit": "cmH2O"},
                        "peep": _lung(5.2, "cmH2O"), "peak": _lung(29.4, "cmH2O"),
                        "peak_shown": {"value": 30, "unit": "cmH2O"}, "full_scale": {"value": 100, "unit": "cmH2O"}},
                tables={"volumes": [_breath(700, 664, 26), _breath(500, 473, 20), _breath(300, 288, 14)]},
            ),
            _example(
                "vaporizer-safety", [_VAPOUR], choices={"state": "usual"},
                values={"positions": _stated(3, "no."),
                        "on_output": {"value": 2.05, "unit": "%", "instrument": "A-8"},
                        "off_leak": {"value": 0.01, "unit": "%", "instrument": "A-8"}},
                tables={"pairs": [_pair(1, 2), _pair(1, 3), _pair(2, 3)],
                        "fillers": [{"position": _stated(one, "no."), "accepts": _yes(), "refuses": _yes(),
                                     "tight": _yes()} for one in (1, 2)]},
            ),
            _example(
                "battery", [_WATCH], choices={"start": "timed", "load": "in use", "ended": "off"},
                values={"charged_for": _stated(14, "h"), "charge_time": _stated(10, "h"), "run_time": _time(3120),
                        "rated_time": _stated(60, "min"), "reserve": _time(480), "alarm_sounded": _yes()},
            ),
            _example(
                "suction", [_VACUUM_GAUGE, _FLOWMETER, _WATCH], choices={"kind": "theatre"},
                values={"fully_open": _yes(), "vacuum": _vacuum(-62), "free_flow": _flow(46), "rise_time": _time(2.4),
                        "timed_to": _vacuum(-40)},
            ),
            _example(
                "connectors", [_CONE_GAUGES, _FORCE_GAUGE], choices={"inlets": "nitrous"},
                values={"hose_fits": _no(), "oxygen_on_nitrous": _no(), "nitrous_on_oxygen": _no(),
                        "pushed_home": _yes()},
                tables={"male": [_cone(15), _cone(22), _cone(30)], "female": [_cone(15), _cone(22)],
                        "pulls": [{"force": {"value": 55, "unit": "N", "instrument": "N-1"}, "came_off": _no()}]},
            ),
            _example(
                "exposure", [_INFRARED, _WATCH], choices={"gas": "nitrous_oxide"},
                values={"breathing_zone": _yes(), "gas_time": _stated(150, "min")},
                tables={"intervals": [{"duration": _stated(minutes, "min"), "concentration": _ppm(found)}
                                      for minutes, found in ((20, 38), (60, 14), (45, 9), (25, 22))]},
            ),
            _example(
                "two-bag", [_MANOMETER],
                values={"fresh_gas": _stated(5, "L/min"), "flows_both_ways": _yes(), "valves_move": _yes(),
                        "apl_releases": _yes(), "volume_kept": _yes(), "rest_pressure": _cm(1.2)},
            ),
            _example(
                "absorber", [_CO2, _MANOMETER, _FLOWMETER],
                values={"inspired": {"value": 0.1, "unit": "%", "instrument": "A-9"},
                        "expired": {"value": 4.8, "unit": "%", "instrument": "A-9"}, "sealed": _yes(),
                        "colour_fresh": _yes(), "bypass_shut": _yes(), "age": _stated(12, "d")},
                tables={"through": _table(("flow", "pressure"), (_flow, _cm), (30, 0.9), (60, 2.4))},
            ),
            _example(
                "monitor-readings", [_LUNG], choices={"displays": "both", "rule": "anaesthesia"},
                values={"full_scale": _stated(100, "cmH2O")},
                tables={
                    "volumes": [{"reference": _lung(true, "mL"), "shown": _stated(shown, "mL")}
                                for true, shown in ((302, 310), (497, 521), (703, 742))],
                    "pressures": [{"reference": _lung(true, "cmH2O"), "shown": _stated(shown, "cmH2O")}
                                  for true, shown in ((10.2, 11), (20.1, 21), (39.6, 41))],
                },
            ),
            _example(
                "alarms", [_MANOMETER, _WATCH], choices={"alarm": "high-pressure"},
                values={"sounds": _yes(), "returns": _yes()},
                tables={"high_pressure_trials": [
                    {"set": _stated(40, "cmH2O"), "sounded": _cm(sounded), "delay": _time(took)}
                    for sounded, took in ((41.2, 0.8), (40.6, 1.1))
                ]},
            ),
            _example("observation", [], choices={"wanted": "yes"}, values={"seen": _yes()}),
        )
    }
)  # fmt: skip
