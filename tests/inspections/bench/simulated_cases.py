"""Random cases of every family of the bench, each with draws of what was true."""

from dataclasses import dataclass, field

import numpy as np

from inspections.bench import Reading, Sheet, Zero
from tests.inspections.bench.simulated import SI, Case, Draws, Meter, decay_rate, fall, line, needle, without_drift
from tests.inspections.bench.simulated_accessories import ACCESSORIES
from tests.inspections.bench.simulated_breathing import BREATHING
from tests.inspections.bench.simulated_closed_volumes import CLOSED_VOLUMES
from tests.inspections.bench.simulated_ventilation import VENTILATION

TARGET = 3000.0


def _draws(random, count):
    return Draws(random, count, ambient=random.uniform(70e3, 103e3), kelvin=random.uniform(286, 302))


def _psi_gauge(random):
    return Meter("G", "psi", 100, random.choice([0.05, 0.1, 0.5]), 0.0, random.uniform(0.1, 1.0))


def _flowmeter(random, code="F", unit="L/min", top=100.0, step=0.01):
    return Meter(code, unit, top, step, random.uniform(0.01, 0.05), random.uniform(0, 2 * step))


def _answer():
    return Reading(1.0, "yes/no")


def shut_off(random, count):
    draws, gauge, meter = _draws(random, count), _psi_gauge(random), _flowmeter(random)
    watch = Meter("W", "s", 600, 0.1, 0, random.uniform(0.1, 0.6), is_limits=True)
    full, set_flow = draws.reading(50, gauge), draws.reading(5, meter)
    trip, width = random.uniform(22, 28), random.uniform(0.5, 3)
    below, above = draws.reading(trip - width / 2, gauge), draws.reading(trip + width / 2, gauge)
    part_low, part_high = random.uniform(0, 0.49), random.uniform(0.51, 1)
    falling = [(above, 5 * part_high), (below, 5 * part_low), (draws.reading(15, gauge), 0)]
    back = draws.reading(trip + width / 2 + 1, gauge), draws.reading(trip + 3 * width / 2 + 1, gauge)
    rising = [(draws.reading(15, gauge), 0), (back[0], 1.0), (back[1], 4.0), (draws.reading(50, gauge), 5)]
    flows = {key: [draws.reading(q, meter) for _, q in rows] for key, rows in (("f", falling), ("r", rising))}
    tables = {
        name: tuple({"pressure": p[0][0], "flow": q[0]} for p, q in zip(rows, flows[key], strict=True))
        for name, key, rows in (("falling", "f", falling), ("rising", "r", rising))
    }
    alarm, delay = draws.reading(random.uniform(26, 34), gauge), draws.reading(random.uniform(1, 6), watch)
    values = {"full_pressure": full[0], "set_flow": set_flow[0], "alarm_pressure": alarm[0], "alarm_delay": delay[0]}

    def crossed(high, low):
        return low[1] + random.uniform(0, 1, count) * (high[1] - low[1])  # nothing was seen between the two

    tripped, reset = crossed(above, below), crossed(back[1], back[0])
    truth = {
        "trip_pressure": tripped, "reset_pressure": reset, "hysteresis": reset - tripped, "alarm_pressure": alarm[1],
        "alarm_delay": delay[1],
    }  # fmt: skip
    truth["returned_share"] = flows["r"][-1][1] / set_flow[1]
    sheet = Sheet(values, tables, {"kind": "shut-off"})
    return Case("supply-failure", sheet, draws.context(), truth)


def proportional(random, count):
    draws, gauge, meter = _draws(random, count), _psi_gauge(random), _flowmeter(random)
    gauge.step = 0.1
    full, set_flow = draws.reading(50, gauge), draws.reading(5, meter)
    excess, worst = random.uniform(0.02, 0.15), random.choice([40, 30, 20, 10])
    rows = []
    for psi in (40, 30, 20, 10, 0):
        share = float(needle(psi * SI["psi"], draws.ambient) / needle(50 * SI["psi"], draws.ambient))
        rows.append((psi, draws.reading(psi, gauge), draws.reading(5 * (share + excess * (psi == worst)), meter)))
    pressure, flow = next((p[1], q[1]) for psi, p, q in rows if psi == worst)
    at_full = needle(full[1], draws.true_ambient)
    truth = {"proportion_deviation": flow / set_flow[1] - needle(pressure, draws.true_ambient) / at_full}
    table = tuple({"pressure": p[0], "flow": q[0]} for _, p, q in rows)
    values = {"full_pressure": full[0], "set_flow": set_flow[0]}
    sheet = Sheet(values, {"falling": table}, {"kind": "proportional"})
    return Case("supply-failure", sheet, draws.context(), truth)


def regulator(random, count):
    draws, gauge, meter = _draws(random, count), _psi_gauge(random), _flowmeter(random)
    watch = Meter("W", "s", 1000, 1, 0, 1.0)
    level, droop = random.uniform(42, 48), random.uniform(0.05, 0.3)
    flows = (2, 5, 10, 15)
    flowing = [(draws.reading(q, meter), draws.reading(level - 0.5 - droop * q, gauge)) for q in flows]
    creep_to = random.uniform(-4, 4)
    creep = [(draws.reading(t, watch), draws.reading(level + creep_to * t / 300, gauge)) for t in (0, 120, 300)]
    one = {
        "static_pressure": draws.reading(level, gauge), "lockup_pressure": draws.reading(level + 1, gauge),
        "pipeline_pressure": draws.reading(50, gauge), "pipeline_flowing_pressure": draws.reading(48.5, gauge),
    }  # fmt: skip
    x, y = (np.array([pair[place][1] for pair in flowing]) for place in (0, 1))
    start, slope = line(x, y)
    times, held = (np.array([pair[place][1] for pair in creep]) for place in (0, 1))
    truth = {
        "static_pressure": one["static_pressure"][1], "droop": -slope,
        "lockup_rise": one["lockup_pressure"][1] - start, "creep_rate": line(times, held)[1],
        "creep_total": held[-1] - held[0], "droop_total": one["static_pressure"][1] - y[-1],
        "pipeline_margin": one["pipeline_pressure"][1] - one["static_pressure"][1],
        "pipeline_margin_flowing": one["pipeline_flowing_pressure"][1] - one["static_pressure"][1],
    }  # fmt: skip
    if creep[2][0][0].value == creep[0][0][0].value or abs(creep_to) < 1:
        truth.pop("creep_total")
    tables = {
        "flowing": tuple({"flow": q[0], "pressure": p[0]} for q, p in flowing),
        "creep": tuple({"time": t[0], "pressure": p[0]} for t, p in creep),
    }
    sheet = Sheet({key: pair[0] for key, pair in one.items()}, tables)
    return Case("regulator", sheet, draws.context(), truth)


def pipeline(random, count):
    draws = _draws(random, count)
    zero = random.choice([None, Zero.ABSOLUTE])
    gauge = Meter("G", "kPa", 1000, random.choice([0.1, 1, 5]), random.uniform(0, 0.01), random.uniform(0.1, 4))
    add = 0 if zero is None else draws.ambient / 1000
    pressure = draws.reading(random.uniform(350, 480) + add, gauge, zero=zero)
    flowing = draws.reading(random.uniform(300, 340) + add, gauge, zero=zero)
    values = {"pressure": pressure[0], "flowing_pressure": flowing[0], "flow": Reading(10, "L/min")}
    truth = {"pressure": pressure[1], "flowing_pressure": flowing[1], "sag": pressure[1] - flowing[1]}
    return Case("pipeline-supply", Sheet(values), draws.context(), truth)


def _manometer(random):
    return Meter("M", "kPa", 10, random.choice([0.005, 0.01]), random.uniform(0.002, 0.02), random.uniform(0, 0.02))


def made_up(random, count):
    draws, gauge, meter = _draws(random, count), _manometer(random), _flowmeter(random, "F", "mL/min", 500, 1)
    sign = random.choice([1, -1])
    flow, pressure = (
        draws.reading(random.uniform(20, 200), meter),
        draws.reading(sign * random.uniform(2.6, 3.4), gauge),
    )
    tried = [draws.reading(random.uniform(20, 40), meter) for _ in range(2)], draws.reading(sign * 2.9, gauge)

    def brought(q, p, shown):
        return q * (TARGET / abs(p)) ** (1.0 if abs(shown) < 3 else 0.5)

    leak = brought(flow[1], pressure[1], pressure[0].value)
    standard = leak * draws.true_ambient / 101_325 * 293.15 / draws.true_kelvin
    worst = max(tried[0], key=lambda one: one[0].value)
    rows = tuple({"flow": one[0], "pressure": tried[1][0]} for one in tried[0])
    truth = {"leak": leak, "leak_standard": standard, "leak_vaporizers": brought(worst[1], tried[1][1], 2.9)}
    values = {"makeup_flow": flow[0], "makeup_pressure": pressure[0]}
    choices = {"method": "make-up", "outlet_valve": "none", "vaporizer_count": "2"}
    return Case("low-pressure-leak", Sheet(values, {"vaporizers": rows}, choices), draws.context(), truth)


@dataclass
class Decaying:
    """A system of one capacity that leaks in one way, and what was read of it."""

    draws: Draws
    random: np.random.Generator
    gauge: Meter
    watch: Meter
    kind: str
    size: float
    values: dict = field(default_factory=dict)
    tables: dict = field(default_factory=dict)

    def fall_from(self, lasting, left):
        """Return (rate constant, gauge pressures at 6 times) of a fall from 3.3 kPa to a share of it."""
        at = np.linspace(0, lasting, 6)
        if self.kind == "laminar":
            rate = -np.log(left) / lasting
            return rate, at, 3300 * np.exp(-rate * at)
        rate = (1 - np.sqrt(left)) * np.sqrt(3300) / lasting
        return rate, at, (np.sqrt(3300) - rate * at) ** 2

    def read(self, table, lasting, left):
        """Read a decay; return its plain rate, and the true rates and mean falls."""
        plain, at, held = self.fall_from(lasting, left)
        read = self.draws.reading
        rows = [(read(t, self.watch), read(p / 1000, self.gauge)) for t, p in zip(at, held, strict=True)]
        self.tables[table] = tuple({"time": t[0], "pressure": p[0]} for t, p in rows)
        times, pressures = (np.array([row[place][1] for row in rows]) for place in (0, 1))
        drift = 0.3 * self.draws.normal()
        true = without_drift(times, pressures, self.draws.ambient, drift, self.draws.kelvin)
        return plain, decay_rate(self.kind, times, true), (true[0] - true[-1]) / (times[-1] - times[0])

    def stated(self, plain, rate, left):
        volume = self.size * self.draws.ambient / SI["mL"]
        if self.random.random() < 0.5:
            given, true = self.draws.reading(volume, Meter("S", "mL", 6000, 10, 0.01))
        else:
            given, true = Reading(volume, "mL"), volume * SI["mL"] * (1 + 0.05 * self.draws.normal())
        self.values["rigid_volume"] = given
        return true / self.draws.true_ambient

    def injected(self, plain, rate, left):
        rise, read = self.random.uniform(1, 3), self.draws.reading
        given = read(self.size * rise * 1000 / SI["mL"], Meter("S", "mL", 6000, 0.2, 0.01))
        before, after = read(0.5, self.gauge), read(0.5 + rise, self.gauge)
        self.values |= {"injected_volume": given[0], "injected_before": before[0], "injected_after": after[0]}
        return given[1] / (after[1] - before[1])

    def made_up(self, plain, rate, left):
        shown = self.size * fall(self.kind, plain, 2800) / SI["mL/min"]
        flow = self.draws.reading(shown, Meter("F", "mL/min", 5000, 0.5, 0.03))
        held = self.draws.reading(2.8, self.gauge)
        self.values |= {"makeup_flow": flow[0], "makeup_pressure": held[0]}
        return flow[1] / fall(self.kind, rate, held[1])

    def with_added(self, plain, rate, left):
        plain_more, rate_more, _ = self.read("decay_added", self.random.uniform(10, 15), 0.7 * left)
        faster = fall(self.kind, plain_more, 3000) - fall(self.kind, plain, 3000)
        flow = self.draws.reading(self.size * faster / SI["mL/min"], Meter("F", "mL/min", 50_000, 0.5, 0.03))
        held = self.draws.reading(3, self.gauge)
        self.values |= {"added_leak_flow": flow[0], "added_leak_pressure": held[0]}
        return flow[1] / (fall(self.kind, rate_more, held[1]) - fall(self.kind, rate, held[1]))


CAPACITIES = {
    "stated": Decaying.stated, "injected": Decaying.injected, "make-up": Decaying.made_up,
    "added leak": Decaying.with_added,
}  # fmt: skip


def decay(random, count):
    """A decay from 3.3 kPa down, with its capacity found in one of the four ways."""
    draws, gauge, watch = _draws(random, count), _manometer(random), Meter("W", "s", 600, 0.1, 0, 0.3)
    gauge.step = 0.005
    size = random.uniform(500, 5000) * SI["mL"] / draws.ambient
    system = Decaying(draws, random, gauge, watch, random.choice(["laminar", "orifice"]), size)
    capacity, left = random.choice(list(CAPACITIES)), random.uniform(0.25, 0.5)
    plain, rate, mean = system.read("decay", random.uniform(40, 120), left)
    true = CAPACITIES[capacity](system, plain, rate, left)
    leak, standard = true * fall(system.kind, rate, TARGET), draws.true_ambient / 101_325 * 293.15 / draws.true_kelvin
    truth = {"leak": leak, "leak_standard": leak * standard, "leak_mean": true * mean, "capacity": true}
    sheet = Sheet(system.values, system.tables, {"method": "decay", "capacity": capacity})
    return Case("breathing-system-leak", sheet, draws.context(), truth)


def mixture(random, count):
    draws = _draws(random, count)
    one, other = _flowmeter(random, "F1"), _flowmeter(random, random.choice(["F1", "F2"]))
    if other.code == "F1":
        other = one
    oxygen, off = draws.reading(random.uniform(0.3, 2), one, gas="oxygen"), draws.reading(random.uniform(0.5, 5), other)
    rest = draws.reading(random.uniform(0.5, 5), other, gas="other")
    drag = np.sqrt(101_325 / draws.true_ambient * draws.true_kelvin / 293.15) - 1

    def flowed(read):
        return read * (
            1 + random.uniform(0, 1, count) * drag
        )  # turbulent past the float by some share, laminar by the rest

    o, x = flowed(oxygen[1]), flowed(rest[1])
    row = {"oxygen_set": Reading(0.3, "L/min"), "other_set": Reading(8, "L/min"), "oxygen_flow": oxygen[0],
           "other_flow": rest[0]}  # fmt: skip
    sheet = Sheet({"oxygen_off_flow": off[0]}, {"grid": (row,)})
    return Case("oxygen-mixture", sheet, draws.context(), {"lowest_fraction": o / (o + x), "oxygen_off_flow": off[1]})


def flush(random, count):
    draws = _draws(random, count)
    values = {"stops_on_release": _answer()}
    if random.random() < 0.5:
        flow = draws.reading(random.uniform(30, 80), _flowmeter(random))
        return Case("oxygen-flush", Sheet({"flow": flow[0], **values}), draws.context(), {"flush_flow": flow[1]})
    filled = draws.reading(random.uniform(2000, 5000), Meter("S", "mL", 6000, 50, 0.02, 20))
    if random.random() < 0.5:
        took = draws.reading(random.uniform(2, 8), Meter("W", "s", 100, 0.1, 0, 0.3, is_limits=True))
    else:
        seconds = random.uniform(2, 8)
        took = Reading(seconds, "s"), seconds + 0.3 * draws.normal()
    values |= {"volume": filled[0], "time": took[0]}
    truth = {"flush_flow": filled[1] / took[1]}
    return Case("oxygen-flush", Sheet(values, {}, {"method": "timed"}), draws.context(), truth)


DENSITY = {"oxygen": 31.9988, "nitrous-oxide": 44.0128, "air": 28.9655}  # by molar mass: enough for u


def tube(random, count):
    """A tube whose row in the middle is clearly its worst; volume flow through an orifice by its gas law."""
    draws, meter = _draws(random, count), _flowmeter(random)
    tube_gas, test_gas = random.choice(list(DENSITY)), random.choice(["oxygen", "air", "nitrous-oxide"])
    is_standard, division = random.random() < 0.5, 0.1
    factor = np.sqrt(DENSITY[tube_gas] / DENSITY[test_gas] * 101_325 / draws.ambient * draws.kelvin / 293.15)
    room = draws.ambient / 101_325 * 293.15 / draws.kelvin if is_standard else 1.0
    rows, truth = [], None
    for shown, error in ((0.5, 0.3), (1.0, 0.0), (5.0, random.choice([-0.3, 0.4])), (10.0, 0.0)):
        read = draws.reading(shown * factor * room / (1 + error), meter)
        rows.append({"set": Reading(shown, "L/min"), "reference": read[0]})
        if shown == 5.0:
            truth = shown * SI["L/min"] + division / 4 * SI["L/min"] * draws.flat(), read[1]
    shown, passed = truth
    if is_standard:
        passed = passed * 101_325 / draws.true_ambient * draws.true_kelvin / 293.15
    ratio = DENSITY[tube_gas] / DENSITY[test_gas] * 101_325 / draws.true_ambient * draws.true_kelvin / 293.15
    values = {"full_scale": Reading(10, "L/min"), "division": Reading(division, "L/min"), "vaporizers_off": _answer()}
    choices = {"tube_gas": tube_gas, "test_gas": test_gas, "reference_volume": "standard" if is_standard else "room"}
    sheet = Sheet(values, {"errors": tuple(rows)}, choices)
    return Case("flowmeter", sheet, draws.context(), {"worst_error": shown * np.sqrt(ratio) / passed - 1})


def basal(random, count):
    draws = _draws(random, count)
    flow = draws.reading(random.uniform(40, 350), _flowmeter(random, unit="mL/min", top=500.0, step=1))
    sheet = Sheet({"flow": flow[0], "controls_closed": _answer()})
    return Case("basal-flow", sheet, draws.context(), {"basal_flow": flow[1]})


def analyser(random, count):
    draws = _draws(random, count)
    shown, label = random.uniform(90, 99), random.uniform(92, 98)
    if random.random() < 0.5:
        reference = Reading(label, "%"), label / 100 + 0.0025 * draws.normal()
    else:
        reference = draws.reading(label, Meter("A", "%", 100, 0.1, 0, 0.5))
    values = {"air_reading": Reading(21, "%"), "flush_reading": Reading(95, "%"), "low_alarm_works": _answer(),
              "span_reading": Reading(shown, "%"), "reference_fraction": reference[0]}  # fmt: skip
    truth = {"span_error": shown / 100 - reference[1]}
    return Case("oxygen-analyser", Sheet(values), draws.context(), truth)


def earth(random, count):
    """Machine and cord read one by one with one tester: its error is common to both lengths."""
    draws = _draws(random, count)
    ohms = Meter("E", "mΩ", 2000, 1, random.uniform(0.01, 0.05), random.uniform(0, 5))
    megohms = Meter("T", "MΩ", 300, 0.5, random.uniform(0.02, 0.1), 0.5)
    first = Meter("R", "mΩ", 2000, 1, random.uniform(0.01, 0.05), 2)
    device, cord = draws.reading(random.uniform(40, 190), ohms), draws.reading(random.uniform(30, 90), ohms)
    then, insulation = draws.reading(random.uniform(80, 250), first), draws.reading(random.uniform(5, 200), megohms)
    applied = draws.reading(random.uniform(80, 250), megohms)
    values = {"earth_device": device[0], "earth_cord": cord[0], "earth_reference": then[0],
              "insulation": insulation[0], "insulation_applied": applied[0], "cord_moved": _answer(),
              "switched_on": _answer(), "test_current": Reading(10, "A"),
              "test_voltage": Reading(500, "V")}  # fmt: skip
    total = device[1] + cord[1]
    truth = {"earth_device": device[1], "earth_cord": cord[1], "earth_total": total, "earth_change": total - then[1],
             "insulation": insulation[1], "insulation_applied": applied[1]}  # fmt: skip
    choices = {"cord": "detachable", "applied_part": random.choice(["BF", "CF"])}
    return Case("earth-and-insulation", Sheet(values, {}, choices), draws.context(), truth)


def leakage(random, count):
    """One current, one voltage; the plug was not turned, so that no worse of two is chosen."""
    draws = _draws(random, count)
    amperes = Meter("A", "µA", 10_000, 1, random.uniform(0.01, 0.08), 2)
    volts, first = Meter("V", "V", 500, 0.1, random.uniform(0.005, 0.06), 1), Meter("R", "µA", 10_000, 1, 0.03, 2)
    at_test, nominal = draws.reading(random.uniform(210, 250), volts), 230.0
    current, then = draws.reading(random.uniform(60, 450), amperes), draws.reading(random.uniform(60, 300), first)
    own = random.random() < 0.5
    values = {"tester_voltage" if own else "mains_voltage": at_test[0], "nominal_voltage": Reading(nominal, "V"),
              "equipment_leakage": current[0], "equipment_reference": then[0], "switched_on": _answer(),
              "tested_before": _answer()}  # fmt: skip
    referred = current[1] * nominal / at_test[1]
    truth = {"equipment_leakage": referred, "equipment_change": referred - then[1]}
    choices = {"method": "alternative" if own else "differential"}
    return Case("leakage-currents", Sheet(values, {}, choices), draws.context(), truth)


FAMILIES = {
    "supply failure, shut-off": shut_off, "supply failure, in proportion": proportional, "regulator": regulator,
    "pipeline": pipeline, "leak by make-up": made_up, "leak by decay": decay, "mixture": mixture, "flush": flush,
    "analyser": analyser, "earth and insulation": earth, "leakage currents": leakage, "flowmeter": tube,
    "basal flow": basal, **ACCESSORIES, **BREATHING, **VENTILATION, **CLOSED_VOLUMES,
}  # fmt: skip
