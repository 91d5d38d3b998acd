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


def _output(dial: float, measured: float) -> dict:
    return {"dial": {"value": dial, "unit": "%"}, "measured": {"value": measured, "unit": "%", "instrument": "A-8"}}


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


def _table(columns: tuple[str, str], make: tuple, *rows: tuple[float, float]) -> list[dict]:
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
            _leak("low-pressure-leak", 1000, -1, outlet_valve="fitted", vaporizer_count="0"),
            _leak("breathing-system-leak", 5000),
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
