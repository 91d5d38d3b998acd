"""One sheet of each family on which everything was challenged, and the ways to make others."""

from hypothesis import strategies as st

from inspections.bench import Decision, Zero, to_si
from inspections.bench.needle import needle_share
from tests.inspections.bench.making import (
    evaluate,
    flow,
    pressure,
    rows,
    sheet,
    without_valve,
)
from tests.inspections.bench.sound_accessories import SOUND_ACCESSORIES
from tests.inspections.bench.sound_closed_volumes import CLOSED_VOLUMES


def figures(lowest, highest):
    """Numbers that a gauge can show."""
    return st.floats(lowest, highest).map(lambda number: round(number, 4))


CREDIT = (Decision.PASS, Decision.CONDITIONAL_PASS)
SWEEP = {"pressure": pressure, "flow": flow}
FALL = ((45, 5), (35, 5), (30, 4.9), (27, 4.7), (26, 4), (25, 2), (24, 0.5), (23, 0), (20, 0), (10, 0), (0, 0))
RISE = ((5, 0), (20, 0), (25, 0.2), (27, 3), (30, 4.9), (40, 5), (50, 5))


def kpa(value):
    return pressure(value, "kPa")


def seconds(value):
    return flow(value, "s")


def supply(fall=FALL, rise=RISE, full=50, set_flow=5, kind="shut-off", **values):
    start = {"full_pressure": pressure(full), "set_flow": flow(set_flow), **values}
    return sheet(start, {"falling": rows(SWEEP, *fall), "rising": rows(SWEEP, *rise)}, kind=kind)


def proportional(fall=None, rise=None, **more):
    """A device that keeps both pressures equal, worked out from the law of flow through an orifice."""
    law = [(p, 5 * needle_share(to_si(p, "psi"), to_si(50, "psi"), 101_325)) for p in (45, 40, 30, 20, 15, 10, 5, 2, 0)]
    back = [(p, q) for p, q in reversed(law)] + [(50, 5)]
    return supply(law if fall is None else fall, back if rise is None else rise, kind="proportional", **more)


def regulator(flowing=((2, 44.6), (5, 44), (11, 43)), creep=((0, 45), (2, 45.1), (5, 45.3)), **changed):
    usual = {"static_pressure": 45, "inlet_pressure": 1700, "pipeline_pressure": 51, "pipeline_flowing_pressure": 50}
    values = {key: pressure(value) for key, value in {**usual, **changed}.items() if value is not None}
    columns = {"flow": flow, "pressure": pressure}
    times = {"time": lambda value: flow(value, "min"), "pressure": pressure}
    return sheet(values, {"flowing": rows(columns, *flowing), "creep": rows(times, *creep)})


def pipeline(still=50, flowing=48, drawn=10):
    values = {"pressure": pressure(still)}
    values |= {} if flowing is None else {"flowing_pressure": pressure(flowing)}
    return sheet(values | ({} if drawn is None else {"flow": flow(drawn)}))


def leak(held=3.0, drawn=10, **choices):
    return sheet({"makeup_flow": flow(drawn, "mL/min"), "makeup_pressure": kpa(held)}, **choices)


STEADY = {"temperature_start": flow(20, "°C"), "temperature_end": flow(20, "°C")}


def decay(*points, volume=1000, **choices):
    table = rows({"time": seconds, "pressure": kpa}, *points)
    return sheet({"rigid_volume": flow(volume, "mL"), **STEADY}, {"decay": table}, method="decay", **choices)


def mixture(*grid, off=0, offered=4, **choices):
    columns = {"oxygen_set": flow, "other_set": flow, "oxygen_flow": flow, "other_flow": flow}
    values = {"oxygen_off_flow": flow(off, "mL/min")}
    values |= {} if offered is None else {"oxygen_off_set": flow(offered)}
    return sheet(values, {"grid": rows(columns, *grid)}, **choices)


YES = flow(1, "yes/no")
EARTHED = {
    "earth_total": flow(150, "mΩ"), "test_current": flow(10, "A"), "cord_moved": YES, "insulation": flow(90, "MΩ"),
    "test_voltage": flow(500, "V"), "switched_on": YES,
}  # fmt: skip
APART = {"earth_device": flow(90, "mΩ"), "earth_cord": flow(60, "mΩ")}
BY_NFPA = {"rules": "us"}


def reversed_of(values):
    """The same resistances read with the polarity reversed."""
    return {f"{key}_reversed": one for key, one in values.items() if key in ("earth_total", *APART)}


def earth(choices=None, **changed):
    """Earth and insulation; a reading of None is left out."""
    values = {key: one for key, one in {**EARTHED, **changed}.items() if one is not None}
    return sheet(values, **(choices or {}))


LEAKING = {
    "tested_before": YES, "switched_on": YES, "mains_voltage": flow(226, "V"), "nominal_voltage": flow(230, "V"),
    "equipment_leakage": flow(210, "µA"),
}  # fmt: skip
TOUCHED = {"touch_intact": flow(40, "µA"), "touch_open": flow(300, "µA"), "equipment_leakage": None}
US_MAINS = {"mains_voltage": flow(121, "V"), "nominal_voltage": flow(120, "V")}


def leaking(choices=None, **changed):
    """Leakage currents; a reading of None is left out."""
    values = {key: one for key, one in {**LEAKING, **changed}.items() if one is not None}
    return sheet(values, **(choices or {}))


def tube(*points, off=1, full=10, more=None, **choices):
    """A flowmeter tube of 10 L/min, read at (set, reference)."""
    values = {"full_scale": flow(full), "vaporizers_off": off if off is None else flow(off, "yes/no"), **(more or {})}
    return sheet(values, {"errors": rows({"set": flow, "reference": flow}, *(points or TUBE))}, **choices)


TUBE_CARD = {
    "division": flow(0.1), "calibration_pressure": pressure(100, "kPa", zero=Zero.ABSOLUTE),
    "calibration_temperature": flow(21, "°C"), "reference_temperature": flow(20, "°C"),
}  # fmt: skip
TUBE = ((0.5, 0.6), (1, 1.02), (2.5, 2.45), (5, 5.1), (10, 9.9))


def basal(shown=200, closed=1, **choices):
    values = {"flow": flow(shown, "mL/min")} | ({} if closed is None else {"controls_closed": flow(closed, "yes/no")})
    return sheet(values, **choices)


def cm(value):
    return pressure(value, "cmH2O")


def apl(opened=((3, 1.1), (10, 1.4), (30, 2.1)), held=3.0, leaked=10, marks=((10, 11), (30, 31))):
    """An APL valve with a light disc: pressures in cmH2O, the closed valve held at so many kPa."""
    values = {"leak_flow": flow(leaked, "mL/min"), "leak_pressure": kpa(held)}
    tables = {"open": rows({"flow": flow, "pressure": cm}, *opened),
              "settings": rows({"setting": cm, "opening": cm}, *marks)}  # fmt: skip
    return sheet(values if leaked is not None else {}, tables)


def one_way(forward=((60, 2.5),), reverse=(8, 40.0), **choices):
    """Both one-way valves alike: pressures in cmH2O, reverse flow in mL/min; `reverse` None for test bags that hold."""
    values, tables = {}, {}
    for side in ("inspiratory", "expiratory"):
        tables[f"{side}_forward"] = rows({"flow": flow, "pressure": cm}, *forward)
        if reverse is None:
            values[f"{side}_holds"] = flow(1, "yes/no")
        else:
            values[f"{side}_reverse_flow"] = flow(reverse[0], "mL/min")
            values[f"{side}_reverse_pressure"] = cm(reverse[1])
    return sheet(values, tables, reverse="bag" if reverse is None else "flow", **choices)


def scavenging(extract=100, drop=2.0, highest=3, inflow=50, lowest=0.0, blocked=(9, 75), kind="bs6834"):
    """A receiving system: pressures in cmH2O, the drop in kPa, flows in L/min; None for what was not read."""
    read = {
        "extract_flow": (flow, extract), "extract_drop": (kpa, drop), "highest_pressure": (cm, highest),
        "inflow": (flow, inflow), "lowest_pressure": (cm, lowest), "blocked_pressure": (cm, blocked[0]),
        "blocked_inflow": (flow, blocked[1]),
    }  # fmt: skip
    return sheet({key: make(value) for key, (make, value) in read.items() if value is not None}, kind=kind)


VENTILATED = {
    "rate_set": flow(12, "1/min"), "rate": flow(12, "1/min"), "inspiratory_share": flow(33.3, "%"),
    "fresh_gas": flow(0.3), "compliance": flow(2.5, "mL/cmH2O"), "peep_set": pressure(5, "cmH2O"),
    "peep": pressure(5, "cmH2O"), "peak": pressure(24, "cmH2O"), "peak_shown": pressure(25, "cmH2O"),
    "full_scale": pressure(100, "cmH2O"),
}  # fmt: skip


def ventilator(*volumes, changed=None, **choices):
    """Rows of set and measured volume in mL and plateau in cmH2O; `changed` readings replace the usual ones."""
    values = {key: one for key, one in {**VENTILATED, **(changed or {})}.items() if one is not None}
    columns = {"set": millilitres, "measured": millilitres, "plateau": lambda value: pressure(value, "cmH2O")}
    table = rows(columns, *(volumes or ((500, 470, 20), (300, 285, 15))))
    return sheet(values, {"volumes": table}, decoupled="no", **choices)


def vaporizer(*outputs, maximum=5, drawn=5, off=0.01, **choices):
    """Rows of setting and measured concentration in percent."""
    values = {"maximum": percent(maximum), "flow": flow(drawn), "off_output": percent(off),
              "upset": flow(0, "yes/no")}  # fmt: skip
    table = rows({"dial": percent, "measured": percent}, *(outputs or ((1, 1.05), (2, 2.1), (4, 3.9))))
    return sheet(values, {"outputs": table}, **choices)


def gas_monitor(certificate=1, span=None, values=None, **choices):
    """Zero gas and a certified gas for each gas that is monitored, as (reference, shown) in percent or mmHg."""
    span = {"co2": (5, 5.1), "n2o": (50, 51), "agent": (2, 2.1), "oxygen": (95, 94)} | (span or {})
    columns = {"reference": percent, "certificate": percent, "shown": percent}
    tables = {key: rows(columns, (0, None, 0), (one[0], certificate, one[1])) for key, one in span.items()}
    columns = {"reference": percent, "certificate": percent, "shown_pressure": lambda value: flow(value, "mmHg")}
    tables["co2_pressure"] = rows(columns, (0, None, 0), (5, certificate, 36.2))
    used = {"co2": ("co2",), "infrared": ("co2", "n2o", "agent"), "all": tuple(span)}[choices.get("monitor", "co2")]
    if choices.get("co2_shows", "percent") != "percent":
        used = ("co2_pressure", *used[1:])
    return sheet(values, {key: tables[key] for key in used}, **choices)


def displays(volumes=((300, 310), (600, 630)), pressures=((10, 11), (30, 31)), full=100, **choices):
    """Rows of (reference, shown) in mL and cmH2O."""
    tables = {"volumes": rows({"reference": millilitres, "shown": millilitres}, *volumes),
              "pressures": rows({"reference": cm, "shown": cm}, *pressures)}  # fmt: skip
    used = tables if choices.get("displays", "both") == "both" else [choices["displays"]]
    values = {"full_scale": cm(full)} if choices.get("rule") != "critical" and "pressures" in used else {}
    return sheet(values, {key: tables[key] for key in used}, **choices)


TRIALS = {
    "low-oxygen": ((21, 20.8, 4), (25, 24.9, 5)), "high-pressure": ((40, 40.5, 1), (20, 20.4, 2)),
    "continuing-pressure": ((15, 15.5, 12),), "low-minute-volume": ((3, 2.9, 20),), "low-supply": ((250, 245, 2),),
}  # fmt: skip
MAKE = {"low-oxygen": lambda value: percent(value), "low-minute-volume": flow, "low-supply": kpa}


def alarm(code, trials=None, **changed):
    """Trials of one alarm as (set to, sounded at, delay in s); a change of None leaves an answer out."""
    make = MAKE.get(code, cm)
    table = rows({"set": make, "sounded": make, "delay": seconds}, *(TRIALS[code] if trials is None else trials))
    values = {"sounds": YES, "returns": YES, **changed}
    tables = {f"{code.replace('-', '_')}_trials": table}
    return sheet({key: one for key, one in values.items() if one is not None}, tables, alarm=code)


OFF_AT_BOTH_ENDS = {
    "patient_end_sounds": YES, "patient_end_delay": seconds(16), "machine_end_sounds": YES,
    "machine_end_delay": seconds(18), "lowest_setting": YES, "returns": YES,
}  # fmt: skip


def disconnected(drive="hanging bellows", **changed):
    """A disconnection tried at both ends; a change of None leaves it out."""
    values = {key: one for key, one in {**OFF_AT_BOTH_ENDS, **changed}.items() if one is not None}
    return sheet(values, alarm="disconnection", drive=drive)


def percent(value):
    return flow(value, "%")


def millilitres(value):
    return flow(value, "mL")


def decisions(code, given_sheet, surroundings=None):
    return {one.key: one.decision for one in evaluate(code, given_sheet, surroundings).results}


SOUND = {
    "supply-failure": (supply(), None),
    "supply-failure, in proportion": (proportional(), None),
    "regulator": (regulator(lockup_pressure=45.6), None),
    "pipeline-supply": (pipeline(), None),
    "low-pressure-leak": (leak(), without_valve()),
    "low-pressure-leak, suction": (leak(-3.0, vaporizer_count="0"), None),
    "low-pressure-leak, decay": (decay((0, -3.1), (30, -3.0), (60, -2.9), vaporizer_count="0"), None),
    "breathing-system-leak": (leak(drawn=60), None),
    "apl-valve": (apl(), None),
    "one-way-valves": (one_way(((20, 0.6), (40, 1.5))), None),
    "one-way-valves, bags": (one_way(reverse=None), None),
    "scavenging": (scavenging(), None),
    "oxygen-mixture": (mixture((0.5, 6, 0.7, 2)), None),
    "flowmeter": (tube(), None),
    "flowmeter, as read": (tube(convention="as read"), None),
    "flowmeter, with its card": (tube(more=TUBE_CARD, reference_volume="standard"), None),
    "basal-flow": (basal(), None),
    "basal-flow, older": (basal(100, type="older"), None),
    "oxygen-flush": (sheet({"flow": flow(50), "stops_on_release": flow(1, "yes/no")}), None),
    "oxygen-analyser": (
        sheet({"air_reading": flow(21, "%"), "flush_reading": flow(97, "%"), "low_alarm_works": flow(1, "yes/no"),
               "span_reading": flow(50, "%"), "reference_fraction": flow(50, "%")}), None),
    "gas-monitor": (gas_monitor(monitor="all"), None),
    "gas-monitor, saturated": (gas_monitor(monitor="infrared", co2_shows="saturated"), None),
    "earth-and-insulation": (
        earth({"cord": "detachable", "earth_supply": "dc", "applied_part": "BF"}, **APART,
              **reversed_of({**EARTHED, **APART}), insulation_applied=flow(120, "MΩ"),
              earth_reference=flow(140, "mΩ"), insulation_reference=flow(100, "MΩ")), None),
    "earth-and-insulation, class II": (
        earth({"protection_class": "II"}, earth_total=None, test_current=None, cord_moved=None), None),
    "earth-and-insulation, by NFPA 99": (
        earth(BY_NFPA, insulation=None, test_voltage=None, switched_on=None), None),
    "leakage-currents": (
        leaking({"applied_part": "CF"}, equipment_leakage_reversed=flow(200, "µA"), applied_leakage=flow(30, "µA"),
                equipment_reference=flow(190, "µA"), applied_reference=flow(28, "µA")), None),
    "leakage-currents, alternative": (
        leaking({"method": "alternative"}, mains_voltage=None, tester_voltage=flow(200, "V")), None),
    "leakage-currents, by NFPA 99": (
        leaking(BY_NFPA, **TOUCHED, **US_MAINS, touch_reference=flow(280, "µA")), None),
    "vaporizer-output": (vaporizer(), None),
    "vaporizer-output, asymmetric": (vaporizer((1, 1.3), (2, 2.5), (4, 4.9), rule="asymmetric"), None),
    "vaporizer-output, audit": (vaporizer(rule="audit"), None),
    "ventilator-volume": (ventilator(), None),
    "ventilator-volume, hoses by volume": (
        ventilator(changed={"compliance": None, "hose_volume": flow(2, "L")}, hoses="volume"), None),
    **CLOSED_VOLUMES,
    **SOUND_ACCESSORIES,
    "monitor-readings": (displays(), None),
    "monitor-readings, critical care": (displays(rule="critical"), None),
    "monitor-readings, pressure alone": (displays(displays="pressures"), None),
    **{f"alarms, {code}": (alarm(code), None) for code in TRIALS},
    "alarms, disconnection": (disconnected(), None),
    "alarms, bellows that stand up": (
        disconnected("ascending bellows", machine_end_sounds=None, machine_end_delay=None), None),
    "observation": (sheet({"seen": flow(1, "yes/no")}), None),
}  # fmt: skip
