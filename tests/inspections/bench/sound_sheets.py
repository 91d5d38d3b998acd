"""One sheet of each family on which everything was challenged, and the ways to make others."""

from hypothesis import strategies as st

from inspections.bench import Decision, to_si
from inspections.bench.needle import needle_share
from tests.inspections.bench.making import (
    evaluate,
    flow,
    pressure,
    rows,
    sheet,
    without_valve,
)


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
    values = {"maximum": percent(maximum), "flow": flow(drawn), "off_output": percent(off)}
    table = rows({"dial": percent, "measured": percent}, *(outputs or ((1, 1.05), (2, 2.1), (4, 3.9))))
    return sheet(values, {"outputs": table}, **choices)


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
    "oxygen-mixture": (mixture((0.5, 6, 0.7, 2)), None),
    "oxygen-flush": (sheet({"flow": flow(50), "stops_on_release": flow(1, "yes/no")}), None),
    "oxygen-analyser": (
        sheet({"air_reading": flow(21, "%"), "flush_reading": flow(97, "%"), "low_alarm_works": flow(1, "yes/no"),
               "span_reading": flow(50, "%"), "reference_fraction": flow(50, "%")}), None),
    "vaporizer-output": (vaporizer(), None),
    "vaporizer-output, asymmetric": (vaporizer((1, 1.3), (2, 2.5), (4, 4.9), rule="asymmetric"), None),
    "vaporizer-output, audit": (vaporizer(rule="audit"), None),
    "ventilator-volume": (ventilator(), None),
    "ventilator-volume, hoses by volume": (
        ventilator(changed={"compliance": None, "hose_volume": flow(2, "L")}, hoses="volume"), None),
    "observation": (sheet({"seen": flow(1, "yes/no")}), None),
}  # fmt: skip
