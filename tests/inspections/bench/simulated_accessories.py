"""Random cases of vaporizer safety, battery, suction, connectors, room air, two bags and absorber, with draws."""

import numpy as np

from inspections.bench import Reading, Sheet, Zero
from tests.inspections.bench.simulated import SI, Case, Draws, Meter, line


def _draws(random, count):
    return Draws(random, count, ambient=random.uniform(60e3, 103e3), kelvin=random.uniform(286, 302))


def _yes(value=1.0):
    return Reading(value, "yes/no")


def safety(random, count):
    draws, analyser = _draws(random, count), Meter("A", "%", 20, 0.001, random.uniform(0.01, 0.05), 0.002)
    off, on = draws.reading(random.uniform(0.01, 0.08), analyser), draws.reading(2, analyser)
    sheet = Sheet({"off_leak": off[0], "on_output": on[0], "positions": Reading(1, "no.")}, {}, {"state": "usual"})
    return Case("vaporizer-safety", sheet, draws.context(), {"off_leak": off[1]})


def battery(random, count):
    draws, watch = _draws(random, count), Meter("W", "min", 600, 0.5, random.uniform(0, 0.01), 0.5)
    joules = Meter("E", "Wh", 2000, 0.1, random.uniform(0.01, 0.05), 0.2)
    run, reserve = draws.reading(random.uniform(20, 90), watch), draws.reading(random.uniform(3, 15), watch)
    rated, drawn, stated = random.uniform(30, 90), draws.reading(random.uniform(50, 300), joules), 200.0
    values = {"run_time": run[0], "reserve": reserve[0], "rated_time": Reading(rated, "min"), "energy": drawn[0],
              "rated_energy": Reading(stated, "Wh")}  # fmt: skip
    truth = {"run_time": run[1], "reserve": reserve[1], "time_share": run[1] / (rated * 60),
             "energy_share": drawn[1] / (stated * 3600)}  # fmt: skip
    choices = {"start": "full", "load": "in use", "ended": "off"}
    return Case("battery", Sheet(values, {}, choices), draws.context(), truth)


def suction(random, count):
    """A vacuum read as gauge or absolute: of the second the ambient pressure is in the depth and in the share."""
    draws, gauge = _draws(random, count), Meter("P", "kPa", 110, 0.1, 0.0, random.uniform(0.2, 2))
    zero = random.choice([None, Zero.ABSOLUTE])
    depth = random.uniform(0.4, 0.75) * draws.ambient / 1000
    read = -depth if zero is None else draws.ambient / 1000 - depth
    vacuum = draws.reading(read, gauge, zero=zero)
    free = draws.reading(random.uniform(20, 60), Meter("F", "L/min", 100, 0.1, random.uniform(0.01, 0.05), 0.2))
    rise = draws.reading(random.uniform(1, 6), Meter("W", "s", 600, 0.1, 0, 0.3))
    values = {"vacuum": vacuum[0], "free_flow": free[0], "rise_time": rise[0], "fully_open": _yes()}
    truth = {"vacuum": -vacuum[1], "vacuum_share": -vacuum[1] / draws.true_ambient, "free_flow": free[1],
             "rise_time": rise[1]}  # fmt: skip
    return Case("suction", Sheet(values), draws.context(), truth)


def connectors(random, count):
    draws, gauge = _draws(random, count), Meter("N", "N", 200, random.choice([0.1, 1]), random.uniform(0.01, 0.03), 0.5)
    pull = draws.reading(random.uniform(40, 90), gauge)
    sheet = Sheet({"pushed_home": _yes()}, {"pulls": ({"force": pull[0], "came_off": _yes()},)})
    return Case("connectors", sheet, draws.context(), {"retention": pull[1]})


def exposure(random, count):
    """Intervals with one loud one of an hour, so that the highest hour is that for every draw."""
    draws, analyser = _draws(random, count), Meter("I", "ppm", 1000, 0.01, random.uniform(0.02, 0.1), 0.1)
    watch, gas = Meter("W", "min", 600, 0.1, 0.002, 0.5), random.choice(["nitrous_oxide", "isoflurane"])
    lengths = [draws.reading(minutes, watch) for minutes in (random.uniform(15, 40), 75, random.uniform(15, 40))]
    found = [draws.reading(part, analyser) for part in (random.uniform(1, 3), random.uniform(8, 20),
                                                        random.uniform(1, 3))]  # fmt: skip
    dose = sum(time[1] * part[1] for time, part in zip(lengths, found, strict=True))
    truth = {"case_average": dose / sum(time[1] for time in lengths), f"shift_{gas}": dose / 28_800}
    if gas == "isoflurane":
        truth["ceiling_mixed"] = found[1][1]
    rows = tuple({"duration": time[0], "concentration": part[0]} for time, part in zip(lengths, found, strict=True))
    return Case("exposure", Sheet({}, {"intervals": rows}, {"gas": gas}), draws.context(), truth)


def two_bag(random, count):
    draws, gauge = _draws(random, count), Meter("M", "cmH2O", 100, 0.1, random.uniform(0.01, 0.05), 0.2)
    rest = draws.reading(random.uniform(0, 5), gauge)
    return Case("two-bag", Sheet({"rest_pressure": rest[0]}), draws.context(), {"rest_pressure": rest[1]})


def absorber(random, count):
    draws, gauge = _draws(random, count), Meter("M", "kPa", 10, 0.0005, 0.005, 0.0005)
    meter, analyser = Meter("F", "L/min", 100, 0.01, 0.02, 0.01), Meter("A", "%", 12, 0.01, 0.03, 0.02)
    inspired, n = draws.reading(random.uniform(0.05, 0.8), analyser), random.uniform(1.2, 1.8)
    rows = [(draws.reading(q, meter), draws.reading(0.3 * (q / 60) ** n, gauge)) for q in (20, random.uniform(40, 50))]
    start, slope = line(*(np.log([pair[place][1] for pair in rows]) for place in (0, 1)))
    truth = {"inspired": inspired[1], "resistance": np.exp(start + slope * np.log(60 * SI["L/min"]))}
    table = tuple({"flow": q[0], "pressure": p[0]} for q, p in rows)
    return Case("absorber", Sheet({"inspired": inspired[0]}, {"through": table}), draws.context(), truth)


ACCESSORIES = {
    "vaporizer safety": safety, "battery": battery, "suction": suction, "connectors": connectors,
    "exposure": exposure, "two bags": two_bag, "absorber": absorber,
}  # fmt: skip
