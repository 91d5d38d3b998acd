"""The invented instruments of the examples, and readings taken with them, in the form that the command line takes."""

GAUGE = {
    "code": "G-14", "name": "pressure gauge 0 to 100 psi",
    "scales": [{"unit": "psi", "low": 0, "high": 100, "resolution": 0.1, "accuracy": {"of_span": 0.0025}}],
}  # fmt: skip
CYLINDER_GAUGE = {
    "code": "C-4", "name": "cylinder gauge",
    "scales": [{"unit": "psi", "low": 0, "high": 3000, "resolution": 5, "accuracy": {"of_span": 0.005}}],
}  # fmt: skip
FLOWMETER = {
    "code": "F-2", "name": "flow analyser",
    "scales": [
        {"unit": "mL/min", "low": 0, "high": 500, "resolution": 1, "accuracy": {"of_reading": 0.02, "absolute": 1}},
        {"unit": "L/min", "low": 0, "high": 200, "resolution": 0.01, "accuracy": {"of_reading": 0.02}},
    ],
}  # fmt: skip
MANOMETER = {
    "code": "M-3", "name": "low-pressure manometer",
    "scales": [{"unit": "cmH2O", "low": -100, "high": 100, "resolution": 0.1, "accuracy": {"of_reading": 0.01}}],
}  # fmt: skip
WATCH = {
    "code": "W-1", "name": "stopwatch",
    "scales": [{"unit": "s", "low": 0, "high": 3600, "resolution": 0.1,
                "accuracy": {"absolute": 0.5, "coverage_factor": 0}}],
}  # fmt: skip
SYRINGE = {
    "code": "S-1", "name": "calibration syringe",
    "scales": [{"unit": "mL", "low": 0, "high": 6000, "resolution": 10, "accuracy": {"of_reading": 0.005}}],
}  # fmt: skip
ANALYSER = {
    "code": "A-5", "name": "oxygen analyser of the workshop",
    "scales": [{"unit": "%", "low": 0, "high": 100, "resolution": 0.1, "accuracy": {"absolute": 0.5}}],
}  # fmt: skip
SAFETY_TESTER = {
    "code": "E-9", "name": "electrical safety tester",
    "scales": [
        {"unit": "mΩ", "low": 0, "high": 2000, "resolution": 1, "accuracy": {"of_reading": 0.02, "absolute": 1}},
        {"unit": "MΩ", "low": 0.1, "high": 200, "resolution": 0.1, "accuracy": {"of_reading": 0.03}},
        {"unit": "µA", "low": 0, "high": 10000, "resolution": 1, "accuracy": {"of_reading": 0.02, "absolute": 1}},
        {"unit": "V", "low": 0, "high": 300, "resolution": 0.1, "accuracy": {"of_reading": 0.01}},
    ],
}  # fmt: skip


LUNG = {
    "code": "V-6", "name": "ventilator tester",
    "scales": [
        {"unit": "mL", "low": 0, "high": 2000, "resolution": 1, "accuracy": {"of_reading": 0.02, "absolute": 2}},
        {"unit": "cmH2O", "low": -20, "high": 120, "resolution": 0.1, "accuracy": {"of_reading": 0.01}},
        {"unit": "1/min", "low": 1, "high": 150, "resolution": 0.1, "accuracy": {"of_reading": 0.01}},
    ],
}  # fmt: skip


def lung(value: float, unit: str) -> dict:
    return {"value": value, "unit": unit, "instrument": "V-6"}


def breath(set_to: float, measured: float, plateau: float) -> dict:
    return {"set": {"value": set_to, "unit": "mL"}, "measured": lung(measured, "mL"),
            "plateau": lung(plateau, "cmH2O")}  # fmt: skip


VAPOUR = {
    "code": "A-8", "name": "vapour analyser of the workshop",
    "scales": [{"unit": "%", "low": 0, "high": 20, "resolution": 0.01,
                "accuracy": {"of_reading": 0.02, "absolute": 0.02}}],
}  # fmt: skip


FORCE_GAUGE = {
    "code": "N-1", "name": "force gauge",
    "scales": [{"unit": "N", "low": 0, "high": 200, "resolution": 0.1, "accuracy": {"of_reading": 0.01}}],
}  # fmt: skip
CONE_GAUGES = {
    "code": "T-2", "name": "taper gauges 15 to 30 mm",
    "scales": [{"unit": "mm", "low": 8, "high": 31, "resolution": 0.001, "accuracy": {"absolute": 0.005}}],
}  # fmt: skip
VACUUM_GAUGE = {
    "code": "P-7", "name": "vacuum gauge",
    "scales": [{"unit": "kPa", "low": -100, "high": 0, "resolution": 0.1, "accuracy": {"of_span": 0.01}}],
}  # fmt: skip
INFRARED = {
    "code": "I-3", "name": "infrared analyser for room air",
    "scales": [{"unit": "ppm", "low": 0, "high": 1000, "resolution": 0.1,
                "accuracy": {"of_reading": 0.05, "absolute": 0.5}}],
}  # fmt: skip
CO2 = {
    "code": "A-9", "name": "carbon dioxide analyser",
    "scales": [{"unit": "%", "low": 0, "high": 12, "resolution": 0.01,
                "accuracy": {"of_reading": 0.02, "absolute": 0.03}}],
}  # fmt: skip


def output(dial: float, measured: float) -> dict:
    return {"dial": {"value": dial, "unit": "%"}, "measured": {"value": measured, "unit": "%", "instrument": "A-8"}}


FINE_GAUGE = {
    "code": "R-7", "name": "reference gauge",
    "scales": [{"unit": "kPa", "low": 0, "high": 20000, "resolution": 1, "accuracy": {"of_span": 0.0005}}],
}  # fmt: skip
THERMOMETER = {
    "code": "T-8", "name": "surface thermometer",
    "scales": [{"unit": "°C", "low": -20, "high": 80, "resolution": 0.1, "accuracy": {"absolute": 0.2}}],
}  # fmt: skip
BALANCE = {
    "code": "B-2", "name": "balance",
    "scales": [{"unit": "kg", "low": 0, "high": 60, "resolution": 0.01, "accuracy": {"absolute": 0.02}}],
}  # fmt: skip


def fine(value: float) -> dict:
    return {"value": value, "unit": "kPa", "zero": "gauge", "instrument": "R-7"}


def warm(value: float) -> dict:
    return {"value": value, "unit": "°C", "instrument": "T-8"}


def certified(
    reference: float, certificate: float | None, shown: float, unit: str = "%", column: str = "shown"
) -> dict:
    row = {"reference": {"value": reference, "unit": "%"}, column: {"value": shown, "unit": unit}}
    return row if certificate is None else {**row, "certificate": {"value": certificate, "unit": "%"}}


def psi(value: float) -> dict:
    return {"value": value, "unit": "psi", "zero": "gauge", "instrument": "G-14"}


def cm(value: float) -> dict:
    return {"value": value, "unit": "cmH2O", "zero": "gauge", "instrument": "M-3"}


def flow(value: float, unit: str = "L/min") -> dict:
    return {"value": value, "unit": unit, "instrument": "F-2"}


def time(value: float) -> dict:
    return {"value": value, "unit": "s", "instrument": "W-1"}


def percent(value: float) -> dict:
    return {"value": value, "unit": "%", "instrument": "A-5"}


def tested(value: float, unit: str) -> dict:
    return {"value": value, "unit": unit, "instrument": "E-9"}


def stated(value: float, unit: str) -> dict:
    return {"value": value, "unit": unit}


def yes() -> dict:
    return {"value": 1, "unit": "yes/no"}


def bulb(watched: float, opened: float | None = None) -> dict:
    times = {"watched": time(watched), "suction": cm(-64)}
    return times if opened is None else {**times, "opened": time(opened)}


def no() -> dict:
    return {"value": 0, "unit": "yes/no"}


def pair(first: int, second: int) -> dict:
    return {"first": stated(first, "no."), "second": stated(second, "no."), "second_opens": no(),
            "first_opens": no()}  # fmt: skip


def cone(size: float) -> dict:
    return {"size": {"value": size, "unit": "mm", "instrument": "T-2"}, "fits": yes(), "sound": yes()}


def vacuum(value: float) -> dict:
    return {"value": value, "unit": "kPa", "zero": "gauge", "instrument": "P-7"}


def ppm(value: float) -> dict:
    return {"value": value, "unit": "ppm", "instrument": "I-3"}
