"""Random cases of cylinders, gauges and closed volumes, each with draws of what was true.

Real gas is here the virial equation of two terms with constants of its own, enough for an uncertainty.
"""

import numpy as np

from inspections.bench import Reading, Sheet
from tests.inspections.bench.simulated import GAS_CONSTANT, SI, Case, Draws, Meter

ZERO_C = 273.15
# Virial coefficients, m3/mol at 20 C with their change per K, and m6/mol2. Source: fitted to CoolProp 8.0.0 over 0.1 to
# 14.5 MPa and 11 to 30 C; Z within 0.0005.
SECOND = {"oxygen": (-17.288e-6, 2.053e-7), "air": (-8.945e-6, 1.945e-7)}
THIRD = {"oxygen": 1.1413e-9, "air": 1.4667e-9}


def _draws(random, count):
    return Draws(random, count, ambient=random.uniform(70e3, 103e3), kelvin=random.uniform(286, 302))


def _thermometer(random):
    return Meter("T", "°C", 80, 0.1, 0, random.uniform(0.1, 0.6))


def virial(gas, mol_m3, kelvin):
    """Compressibility of a gas of so many mol per m3."""
    slope, third = SECOND[gas], THIRD[gas]
    return 1 + (slope[0] + slope[1] * (kelvin - 293.15)) * mol_m3 + third * mol_m3**2


def amount(gas, pa_abs, kelvin):
    """Mol per m3 of a gas, by rounds from the ideal gas."""
    ideal = pa_abs / (GAS_CONSTANT * kelvin)
    found = ideal
    for _ in range(40):
        found = ideal / virial(gas, found, kelvin)
    return found


def standard(gas):
    """Mol per m3 at 20 C and 101.325 kPa."""
    return amount(gas, 101_325, 293.15)


def high_pressure(random, count):
    """A hose under pipeline pressure at two times, by gauge, thermometer and watch."""
    draws, gas = _draws(random, count), random.choice(list(SECOND))
    gauge, thermometer = Meter("G", "kPa", 20_000, 0.5, 0, random.uniform(0.5, 3)), _thermometer(random)
    watch = Meter("W", "s", 4000, 0.1, 0, 0.5)
    start, fall, warm = random.uniform(300, 900), random.uniform(5, 40), random.uniform(17, 25)
    rows = []
    for time in (0, 300):
        shown = ((time, watch), (start - fall * time / 300, gauge), (warm + random.uniform(0, 1), thermometer))
        rows.append([draws.reading(*one) for one in shown])
    volume = random.uniform(20, 300)
    within = random.uniform(0.05, 0.3) * volume
    held = volume * SI["mL"] + within / 2 * SI["mL"] * draws.normal()
    times = np.array([row[0][1] for row in rows])
    amounts = np.array([amount(gas, row[1][1] + draws.true_ambient, row[2][1] + ZERO_C) for row in rows])
    truth = {"leak": (amounts[0] - amounts[1]) / (times[1] - times[0]) * held / standard(gas)}
    table = tuple({"time": t[0], "pressure": p[0], "temperature": k[0]} for t, p, k in rows)
    values = {"volume": Reading(volume, "mL"), "volume_within": Reading(within, "mL")}
    sheet = Sheet(values, {"decay": table}, {"section": "inlet", "gas": gas})
    return Case("high-pressure-leak", sheet, draws.context(), truth)


def high_pressure_unread(random, count):
    """A cylinder side whose gas temperature nobody read: it may change by 1 K (k = 1) over the decay."""
    draws, gauge = _draws(random, count), Meter("G", "kPa", 20_000, 5, 0, random.uniform(5, 50))
    watch = Meter("W", "s", 4000, 0.1, 0, 0.5)
    start, fall = random.uniform(7000, 14_000), random.uniform(100, 400)
    rows = [[draws.reading(t, watch), draws.reading(start - fall * t / 300, gauge)] for t in (0, 300)]
    (begin, first), (end, last) = ((row[0][1], row[1][1] + draws.true_ambient) for row in rows)
    change = draws.normal()
    held = amount("oxygen", last, draws.true_kelvin + change)
    again = held * GAS_CONSTANT * draws.true_kelvin * virial("oxygen", held, draws.true_kelvin)
    truth = {"pressure_fall": (first - again) / (end - begin)}
    table = tuple({"time": t[0], "pressure": p[0]} for t, p in rows)
    return Case("high-pressure-leak", Sheet({}, {"decay": table}), draws.context(), truth)


def cylinder(random, count):
    """A cylinder of oxygen or air, read and weighed, that also drives a ventilator down to a reserve."""
    draws, gas = _draws(random, count), random.choice(list(SECOND))
    gauge, balance = Meter("G", "kPa", 20_000, 10, 0, random.uniform(10, 100)), Meter("B", "kg", 60, 0.01, 0, 0.02)
    flowmeter = Meter("F", "L/min", 100, 0.01, random.uniform(0.02, 0.1), 0.01)
    mass = {"oxygen": 31.9988e-3, "air": 28.9655e-3}[gas]
    kelvin = draws.reading(random.uniform(12, 28), _thermometer(random))
    held = draws.reading(random.uniform(4000, 13_000), gauge)
    litres, reserve = random.uniform(3, 20), random.uniform(500, 1500)
    capacity = litres * 1e-3 * (1 + 0.01 * draws.normal())
    warm = kelvin[1] + ZERO_C
    content = capacity * amount(gas, held[1] + draws.true_ambient, warm) / standard(gas)
    left = capacity * amount(gas, reserve * 1000 + draws.true_ambient, warm) / standard(gas)
    tare = random.uniform(4, 12)
    tared = draws.reading(tare, balance)
    gross = draws.reading(tare + litres * 1e-3 * float(np.mean(content / capacity)) * standard(gas) * mass, balance)
    fresh, driving = (draws.reading(random.uniform(*ends), flowmeter) for ends in ((1, 6), (3, 10)))
    weighed = (gross[1] - tared[1]) / mass / standard(gas)
    truth = {
        "content_pressure": content, "content_mass": weighed, "agreement": weighed / content - 1,
        "minutes": (content - left) / (fresh[1] + driving[1]), "minutes_undriven": (content - left) / fresh[1],
    }  # fmt: skip
    values = {
        "pressure": held[0], "water_capacity": Reading(litres, "L"), "gas_temperature": kelvin[0], "tare": tared[0],
        "gross_mass": gross[0], "flow": fresh[0], "driving_flow": driving[0],
        "reserve_pressure": Reading(reserve, "kPa"),
    }  # fmt: skip
    return Case("cylinder-content", Sheet(values, {}, {"gas": gas, "drive": "driven"}), draws.context(), truth)


def gauge(random, count):
    """A gauge whose one row is clearly the worst, rising and falling at the same marks, read to a quarter division."""
    draws, division = _draws(random, count), 200.0
    meter = Meter("R", "kPa", 20_000, 1, random.uniform(0.0005, 0.002), random.uniform(1, 20))
    shown = {way: [draws.reading(true, meter) for true in marks]
             for way, marks in (("rising", (3000, 8000, 18_500)), ("falling", (8000, 3000)))}  # fmt: skip
    worst, lag = random.uniform(200, 300), random.uniform(400, 500)
    offs = {"rising": (0, 0, -worst), "falling": (worst + lag, 0)}
    tables = {}
    quarter = division / 4 * 1000
    for way, points in shown.items():
        tables[way] = tuple(
            {"reference": true[0], "shown": Reading(true[0].value + off, "kPa")}
            for true, off in zip(points, offs[way], strict=True)
        )
    high, low = shown["falling"][0], shown["rising"][1]
    seen = (high[0].value + offs["falling"][0]) * 1000 + quarter * draws.flat()
    seen_low = low[0].value * 1000 + quarter * draws.flat()
    error = (seen - high[1]) / 20e6
    hysteresis = (seen - high[1] - (seen_low - low[1])) / 20e6
    zero = random.uniform(0, 200)
    values = {"full_scale": Reading(20_000, "kPa"), "division": Reading(division, "kPa"),
              "zero_after": Reading(zero, "kPa")}  # fmt: skip
    at_zero = (zero * 1000 + quarter * draws.flat()) / 20e6
    truth = {"worst_error": error, "hysteresis": hysteresis, "zero_after": at_zero}
    return Case("pressure-gauge", Sheet(values, tables, {"accuracy_class": "2.5"}), draws.context(), truth)


def bulb(random, count):
    draws, watch = _draws(random, count), Meter("W", "s", 600, 0.1, 0, random.uniform(0.2, 0.8), is_limits=True)
    syringe = Meter("S", "mL", 500, 1, random.uniform(0.01, 0.1))
    off, on = draws.reading(random.uniform(12, 20), watch), draws.reading(random.uniform(3, 9), watch)
    volume = draws.reading(random.uniform(40, 120), syringe)
    share = 0.1 + 0.05 * draws.flat()
    rows = ({"watched": off[0]}, {"watched": on[0], "opened": on[0]})
    values = {"bulb_volume": volume[0], "bulb_holds": Reading(1, "yes/no"), "controls_closed": Reading(1, "yes/no")}
    truth = {
        "hold_off": off[1], "hold_vaporizers": on[1], "leak": volume[1] * share / on[1],
        "detectable_leak": volume[1] * share / 10,
    }  # fmt: skip
    sheet = Sheet(values, {"positions": rows}, {"vaporizer_count": "1"})
    return Case("negative-pressure-leak", sheet, draws.context(), truth)


def compliance(random, count):
    """A system of a bag and a gas volume, both found by a syringe or both stated."""
    draws, step = _draws(random, count), random.choice([0.05, 0.1])
    meter = Meter("M", "cmH2O", 100, step, random.uniform(0.002, 0.02))
    watch, syringe = Meter("W", "s", 600, 0.1, 0, 0.3), Meter("S", "mL", 8000, 1, random.uniform(0.005, 0.03))
    litres, walls = random.uniform(2, 6), random.uniform(2, 20)
    volume = draws.reading(litres * 1000, syringe)
    is_stated = random.random() < 0.5
    values = {"rigid_volume": volume[0]}
    if is_stated:
        values["compliance"] = Reading(walls, "mL/cmH2O")
        elastic = walls * 1e-6 / SI["cmH2O"] * (1 + 0.1 * draws.normal())
        whole = elastic + volume[1] / draws.true_ambient
    else:
        rise = 150 / (walls + litres * 1e3 / draws.ambient * SI["cmH2O"])
        injected, before = draws.reading(150, syringe), draws.reading(0.5, meter)
        after = draws.reading(0.5 + rise, meter)
        values |= {"injected_volume": injected[0], "injected_before": before[0], "injected_after": after[0]}
        whole = injected[1] / (after[1] - before[1])
        elastic = whole - volume[1] / draws.true_ambient
    start, time = draws.reading(random.uniform(29, 31), meter), draws.reading(random.uniform(10, 30), watch)
    end = draws.reading(random.uniform(26, 28.5), meter)
    values |= {"hold_start": start[0], "hold_end": end[0], "hold_time": time[0]}
    fell = (start[1] - end[1]) / time[1]
    truth = {
        "compliance": whole, "gas_compliance": volume[1] / draws.true_ambient, "wall_compliance": elastic,
        "sea_level_compliance": elastic + volume[1] / 101_325, "hold_fall": fell * 10, "hold_leak": whole * fell,
        "permitted_leak": whole * SI["cmH2O"] / 10,
    }  # fmt: skip
    sheet = Sheet(values, {}, {"capacity": "stated" if is_stated else "injected"})
    return Case("breathing-compliance", sheet, draws.context(), truth)


CLOSED_VOLUMES = {
    "high-pressure leak": high_pressure, "high-pressure fall, temperature unread": high_pressure_unread,
    "cylinder content": cylinder, "pressure gauge": gauge, "suction bulb": bulb, "breathing compliance": compliance,
}  # fmt: skip
