"""Sound sheets of what holds gas under pressure: cylinders, gauges, sections of the supply, the breathing system."""

from tests.inspections.bench.making import flow, pressure, rows, sheet

YES = flow(1, "yes/no")
UPWARDS = ((4000, 4100), (8000, 8100), (14000, 14100), (19000, 19100))
DOWNWARDS = ((14000, 14200), (8000, 8200), (4000, 4200))
STEADY_FALL = ((0, 13_000, 20), (3, 12_970, 20), (5, 12_950, 20))


def kpa(value):
    return pressure(value, "kPa")


def cm(value):
    return pressure(value, "cmH2O")


def millilitres(value):
    return flow(value, "mL")


def minutes(value):
    return flow(value, "min")


def seconds(value):
    return flow(value, "s")


def celsius(value):
    return flow(value, "°C")


def high(*points, volume=10, within=None, **choices):
    """A section under pressure: rows of minutes, kPa and °C; None for a temperature that was not read."""
    values = {key: millilitres(one) for key, one in (("volume", volume), ("volume_within", within)) if one is not None}
    table = rows({"time": minutes, "pressure": kpa, "temperature": celsius}, *(points or STEADY_FALL))
    return sheet(values, {"decay": table}, **choices)


def held(start=30.0, end=29.8, watched=12, changed=None, **choices):
    """A breathing system of 4.5 L: 100 mL raise it by 14.6 cmH2O; `changed` readings replace the usual ones."""
    usual = {
        "injected_volume": millilitres(100), "injected_before": cm(0), "injected_after": cm(14.6),
        "rigid_volume": flow(4.5, "L"), "hold_start": cm(start), "hold_end": cm(end), "hold_time": flow(watched, "s"),
    }  # fmt: skip
    return sheet({key: one for key, one in {**usual, **(changed or {})}.items() if one is not None}, **choices)


def bulb(*positions, holds=1, closed=1, suction=-65, count="1"):
    """Rows of seconds watched and seconds until it opened (None: still collapsed), from all vaporizers off on."""
    answers = {"bulb_holds": holds, "controls_closed": closed}
    values = {key: flow(one, "yes/no") for key, one in answers.items() if one is not None}
    columns = {"watched": seconds, "opened": seconds, "suction": cm}
    table = rows(columns, *((*one, suction) for one in (positions or ((16, None), (15, 14)))))
    return sheet({**values, "bulb_volume": millilitres(50)}, {"positions": table}, vaporizer_count=count)


OXYGEN_CYLINDER = {
    "pressure": kpa(4000), "water_capacity": flow(4.7, "L"), "gas_temperature": celsius(20),
    "gross_mass": flow(6.8, "kg"), "tare": flow(6.546, "kg"), "flow": flow(2), "reserve_pressure": kpa(500),
}  # fmt: skip


def cylinder(changed=None, **choices):
    """A yoke cylinder of 4.7 L with 4,000 kPa of oxygen, weighed as well; a reading of None is left out."""
    values = {**OXYGEN_CYLINDER, **(changed or {})}
    return sheet({key: one for key, one in values.items() if one is not None}, **choices)


FULL = {"pressure": kpa(13_000), "gross_mass": None, "tare": None}
NITROUS = {"pressure": kpa(4950), "gross_mass": flow(8.6, "kg"), "tare": flow(6.5, "kg")}


def dial(rising=UPWARDS, falling=DOWNWARDS, zero=100, division=500, **choices):
    """A gauge of 20 MPa: rows of reference and gauge in kPa."""
    values = {"full_scale": kpa(20_000), "division": kpa(division)}
    values |= {} if zero is None else {"zero_after": kpa(zero)}
    columns = {"reference": kpa, "shown": kpa}
    return sheet(values, {"rising": rows(columns, *rising), "falling": rows(columns, *falling)}, **choices)


CLOSED_VOLUMES = {
    "cylinder-content": (cylinder(FULL), None),
    "cylinder-content, driving a ventilator": (
        cylinder({**FULL, "driving_flow": flow(8)}, drive="driven"), None),
    "cylinder-content, nitrous oxide": (cylinder(NITROUS, gas="nitrous-oxide"), None),
    "pressure-gauge": (dial(), None),
    "high-pressure-leak": (high(), None),
    "high-pressure-leak, inlet": (high((0, 400, 20), (1, 397.5, 20), volume=500, section="inlet"), None),
    "high-pressure-leak, its volume uncertain": (
        high((0, 400, 20), (1, 397.5, 20), volume=500, within=25, section="lines"), None),
    "negative-pressure-leak": (bulb(), None),
    "breathing-compliance": (held(), None),
    "breathing-compliance, stated": (
        held(capacity="stated", changed={"compliance": flow(2.5, "mL/cmH2O"), "visible_fall": cm(0.5)}), None),
}  # fmt: skip
