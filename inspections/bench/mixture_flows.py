"""The rows of a mixture test: what was set, what flowed, and the oxygen fraction that comes of it."""

from dataclasses import replace
from math import hypot, sqrt

from .decay import STANDARD_K, STANDARD_PA_ABS
from .declarations import Context
from .measuring import Bench, Row
from .propagation import Measured, difference, propagate_measured
from .uncertainty import RECTANGULAR, Estimate

OXYGEN_IN = {"nitrous oxide": 0.0, "air": 0.21, "other": 0.0}
"""Oxygen fraction of the other gas. Air: 0.209 rounded to the 0.21 of clinical use (common practice, no source)."""

NOMINAL_FRACTION = 0.25  # 3:1, ASA Monitor 79(10):42
EXCESS_FRACTION = 0.2  # oxygen that a setting asks for at most, so that the protection has something to limit
_MOVED = 0.05  # a flow that differs from its setting by more than 5 % was changed by the protection


def grid_rows(bench: Bench) -> list[tuple[int, Row]]:
    return bench.rows("grid", nominal=("oxygen_set", "other_set"))


def mixed_rows(bench: Bench, rows: list[tuple[int, Row]]) -> list[tuple[int, Row, Estimate]]:
    """Return the rows that give an oxygen fraction, with that."""
    in_other = OXYGEN_IN[bench.choice("other_gas")]
    found = ((number, row, _fraction(bench, number, row, in_other)) for number, row in rows)
    return [(number, row, fraction) for number, row, fraction in found if fraction is not None]


def share_set(row: Row) -> float | None:
    oxygen, other = row["oxygen_set"].value, row["other_set"].value
    return oxygen / (oxygen + other) if other > 0 else None


def is_excess(row: Row) -> bool:
    share = share_set(row)
    return share is not None and share <= EXCESS_FRACTION * (1 + 1e-9)


def telling_rows(rows: list[tuple[int, Row]]) -> list[tuple[int, Row]]:
    """Return the rows that show whether anything protects the ratio: those of excess, else all that ask too much."""
    asked = [(number, row) for number, row in rows if asks_too_much(row)]
    return [(number, row) for number, row in asked if is_excess(row)] or asked


def oxygen_flow(row: Row) -> Measured:
    return row.get("oxygen_flow") or row["oxygen_set"]


def computed_fraction(oxygen: float, other: float, in_other: float) -> float:
    """Return the oxygen fraction of two mixed flows in one unit, clamped to 0..1 (rounding, steps of a derivative).

    in_other  oxygen fraction of the other gas, 0..1
    Raises ZeroDivisionError if both flows are zero: the fraction is not defined.
    """
    return min(1.0, max(0.0, (oxygen + in_other * other) / (oxygen + other)))


def _fraction(bench: Bench, number: int, row: Row, in_other: float) -> Estimate | None:
    """Return the fraction of one row: the analyser's if it was read, else computed from the flows."""
    analysed, oxygen, other = row.get("oxygen_fraction"), oxygen_flow(row), row["other_flow"]
    if oxygen.value + other.value == 0:
        if analysed is None:
            bench.remarks.append(f"Row {number}: no gas flows, so there is no mixture to test.")
            return None
        return analysed.estimate
    if analysed is None:
        return _from_flows(bench, row, in_other)
    if words := contradiction(bench, number, row):
        bench.remarks.append(words)
    return analysed.estimate


def _from_flows(bench: Bench, row: Row, in_other: float) -> Estimate:
    """Return the fraction that two flows give: each read on a scale that errs by itself in its gas and its density."""
    oxygen, other = oxygen_flow(row), row["other_flow"]
    if "oxygen_flow" not in row:
        oxygen = bench.tube(oxygen, "Oxygen flow set")

    def fraction(o: float, x: float, o_factor: float, x_factor: float) -> float:
        return (o * o_factor + in_other * x * x_factor) / (o * o_factor + x * x_factor)

    density = Measured(1.0, own_std=density_std(bench.context), own_excess=RECTANGULAR)
    found = propagate_measured(fraction, (oxygen, other, density, density))
    return replace(found, value=computed_fraction(oxygen.value, other.value, in_other))


def density_std(context: Context) -> float:
    """Return the relative standard uncertainty of one flow from the density of the gas at the place.

    A flowmeter tube is marked for 101.325 kPa and 20 °C. Elsewhere its float needs more flow, by the root of the
    density where the flow past it is turbulent, by nothing where it is laminar; which, and whether an electronic
    flowmeter corrects for it, is not known, so any share of it is equally likely, for each gas by itself. A share that
    both have cancels in a mixture. Source: flow past a float, any textbook of flow measurement (from memory).
    """
    factor = sqrt(STANDARD_PA_ABS / context.ambient_pa_abs * context.temperature_k / STANDARD_K)
    weather = hypot(context.ambient_std_pa / context.ambient_pa_abs, context.temperature_std_k / context.temperature_k)
    return hypot(factor - 1, weather / 2) / sqrt(12) / ((1 + factor) / 2)


def contradiction(bench: Bench, number: int, row: Row) -> str:
    """Say that the analyser contradicts the flows by more than both can explain (at least 3 % oxygen), else nothing."""
    analysed, oxygen, other = row.get("oxygen_fraction"), oxygen_flow(row), row["other_flow"]
    if analysed is None or oxygen.value + other.value == 0:
        return ""
    in_other = OXYGEN_IN[bench.choice("other_gas")]
    computed = _from_flows(bench, row, in_other)
    apart, both = abs(analysed.value - computed.value), analysed.estimate.std_uncertainty**2
    if apart <= max(0.03, 2 * (both + computed.std_uncertainty**2) ** 0.5):
        return ""
    return (
        f"Row {number}: the analyser shows {analysed.value:.1%}, but the flows give {computed.value:.1%}. "
        "Check the analyser, the flowmeters and which gas the pipe carries."
    )


def set_and_measured(row: Row) -> list[tuple[Measured, Measured, int]]:
    """Return (set, measured, which way a protection moves it) of oxygen and the other gas."""
    return [(row["oxygen_set"], oxygen_flow(row), 1), (row["other_set"], row["other_flow"], -1)]


def is_moved(setting: Measured, flow: Measured, way: int) -> bool:
    return way * (flow.value - setting.value) > _MOVED * setting.value


def moves_clearly(bench: Bench, setting: Measured, flow: Measured, way: int) -> bool:
    apart = difference(flow, bench.tube(setting, "Flows set"))
    return is_moved(setting, flow, way) and way * apart.value > apart.expanded()


def is_raised(row: Row) -> bool:
    return is_moved(*set_and_measured(row)[0])


def is_cut(row: Row) -> bool:
    return is_moved(*set_and_measured(row)[1])


def asks_too_much(row: Row) -> bool:
    oxygen, other = row["oxygen_set"].value, row["other_set"].value
    return other > 0 and oxygen / (oxygen + other) < NOMINAL_FRACTION * (1 - 1e-9)
