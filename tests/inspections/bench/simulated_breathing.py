"""Random cases of the APL valve, the one-way valves and the scavenging, each with draws of what was true."""

import numpy as np

from inspections.bench import Reading, Sheet
from tests.inspections.bench.simulated import SI, Case, Draws, Meter, line

LITRE = SI["L/min"]


def _rig(random, count):
    draws = Draws(random, count, ambient=random.uniform(70e3, 103e3), kelvin=random.uniform(286, 302))
    gauge = Meter("M", "kPa", 10, random.choice([0.0005, 0.001]), random.uniform(0.005, 0.03), 0.0005)
    meter = Meter("F", "L/min", 100, 0.01, random.uniform(0.01, 0.04), 0.01)
    return draws, gauge, meter


def _read(draws, gauge, meter, flows, at_30, exponent):
    """Read flows through a passage of one power law that needs `at_30` kPa at 30 L/min."""
    return [(draws.reading(q, meter), draws.reading(at_30 * (q / 30) ** exponent, gauge)) for q in flows]


def _law(rows, target):
    start, slope = line(*(np.log([pair[place][1] for pair in rows]) for place in (0, 1)))
    return np.exp(start + slope * np.log(target * LITRE))


def _table(rows):
    return tuple({"flow": q[0], "pressure": p[0]} for q, p in rows)


def _held(random, draws, gauge, top, kilopascal):
    small = Meter("L", "mL/min", 500, 1, random.uniform(0.01, 0.05), 1)
    return draws.reading(random.uniform(5, top), small), draws.reading(kilopascal, gauge)


def apl_by_law(random, count):
    """Readings on both sides of 3 and 30 L/min, and the power law through the two beside each."""
    draws, gauge, meter = _rig(random, count)
    rows = _read(draws, gauge, meter, (2, 8, 20, 45), random.uniform(0.15, 0.4), random.uniform(1.05, 1.6))
    flow, held = _held(random, draws, gauge, 60, random.uniform(2.7, 3.3))
    power = 1.0 if held[0].value < 3 else 0.5
    mark, opened = random.uniform(1, 5), draws.reading(random.uniform(1, 5), gauge)
    truth = {
        "pressure_3": _law(rows[:2], 3), "pressure_30": _law(rows[2:], 30), "opening_error": opened[1] - mark * 1000,
        "closed_leak": flow[1] * (3000 / held[1]) ** power,
    }  # fmt: skip
    tables = {"open": _table(rows), "settings": ({"setting": Reading(mark, "kPa"), "opening": opened[0]},)}
    return Case("apl-valve", Sheet({"leak_flow": flow[0], "leak_pressure": held[0]}, tables), draws.context(), truth)


def apl_read(random, count):
    """Readings near 3 and 30 L/min: over so short a way the exponent is anything from 0 to 2."""
    draws, gauge, meter = _rig(random, count)
    rows = _read(draws, gauge, meter, (random.uniform(2.86, 3.14), random.uniform(28.6, 31.4)), 0.2, 0.4)
    truth = {}
    for key, target, (flow, pressure) in zip(("pressure_3", "pressure_30"), (3, 30), rows, strict=True):
        truth[key] = pressure[1] * (target * LITRE / flow[1]) ** random.uniform(0, 2, count)
    return Case("apl-valve", Sheet({}, {"open": _table(rows)}), draws.context(), truth)


def one_way(random, count):
    """One reading of the inspiratory valve and any exponent; two of the expiratory valve and the law through them."""
    draws, gauge, meter = _rig(random, count)
    gauge.step, gauge.of_reading = 0.0005, 0.005
    plain = _read(draws, gauge, meter, (random.uniform(20, 50),), random.uniform(0.1, 0.4), 1.4)
    fitted = _read(draws, gauge, meter, (20, random.uniform(40, 50)), 0.3, random.uniform(1.2, 1.8))
    (flow, pressure), any_n = plain[0], random.uniform(1, 2, count)
    back, held = _held(random, draws, gauge, 60, 4.0)
    truth = {
        "inspiratory_resistance": pressure[1] * (60 * LITRE / flow[1]) ** any_n,
        "inspiratory_forward_pressure": pressure[1], "inspiratory_reverse_leak": back[1],
        "inspiratory_reverse_share": back[1] / (flow[1] * (held[1] / pressure[1]) ** (1 / any_n)),
        "expiratory_resistance": _law(fitted, 60),
    }  # fmt: skip
    values = {"inspiratory_reverse_flow": back[0], "inspiratory_reverse_pressure": held[0]}
    tables = {"inspiratory_forward": _table(plain), "expiratory_forward": _table(fitted)}
    return Case("one-way-valves", Sheet(values, tables), draws.context(), truth)


def scavenging(random, count):
    draws, gauge, meter = _rig(random, count)
    meter.top, values, truth = 200, {}, {}
    for key, low, high in (("extract_flow", 85, 125), ("inflow", 40, 60), ("blocked_inflow", 75, 80)):
        values[key], truth[key] = draws.reading(random.uniform(low, high), meter)
    for key, low, high in (("extract_drop", 1, 4), ("highest_pressure", 0.1, 0.9), ("lowest_pressure", -0.04, 0.01),
                           ("blocked_pressure", 0.5, 2)):  # fmt: skip
        values[key], truth[key] = draws.reading(random.uniform(low, high), gauge)
    judged = ("extract_flow", "highest_pressure", "lowest_pressure", "blocked_pressure")
    truth = {key: truth[key] for key in judged}
    return Case("scavenging", Sheet(values, {}, {"kind": "bs6834"}), draws.context(), truth)


BREATHING = {
    "APL valve, power law": apl_by_law,
    "APL valve, as read": apl_read,
    "one-way valves": one_way,
    "scavenging": scavenging,
}
