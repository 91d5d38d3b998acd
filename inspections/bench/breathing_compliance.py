"""Compliance of the breathing system, and what "holds 30 cmH2O for 10 s" proves of its leak once that is known.

The same fall of pressure is twice the leak in a system of twice the compliance, so that the ten-second rule says
something of a leak only where the compliance is known. Of a rigid volume it is the volume over the ambient pressure:
the thinner the air, the more of it a pressure takes up.
"""

from dataclasses import replace

from .capacity import CAPACITIES, Capacity
from .challenges import Challenge, NoChallenge, Reason, Unmet, first_unmet
from .declarations import ChoiceSpec, Context, ReadingSpec, ResultSpec, Test
from .errors import BenchError
from .impossible import NeverAbove
from .leak_challenges import BAND, LEAST_WATCHED, TEST_PRESSURES
from .limits import FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .propagation import Measured, propagate_measured
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, reading, with_option
from .uncertainty import RECTANGULAR

INJECTED, STATED, UNKNOWN = "injected", "stated", "unknown"
HELD = TEST_PRESSURES["30 cmH2O"]
VISIBLE = to_si(1, "cmH2O")  # a division of a needle; common practice, no source
ADIABATIC = 1.4  # ratio of heat capacities of air, oxygen and nitrogen: gas that had no time to cool takes up less
SEA_LEVEL_PA = 101_325.0


def evaluate_compliance(sheet: Sheet, context: Context) -> Evaluation:
    """Return the compliance, its share of compressed gas, and what the pressure held says. Raises BenchError."""
    bench = Bench(COMPLIANCE, sheet, context)
    bench.assume(context.assumed.get("ambient", ""))
    capacity = _capacity(bench)
    visible, is_entered = _visible(bench)
    start, end = (_as_seen(bench, key, visible, is_entered) for key in ("hold_start", "hold_end"))
    hold = (start, end, bench.value("hold_time"))
    results: list[Result] = []
    if capacity is not None:
        results += _compliance(bench, capacity)
    if None not in hold:
        results += _held(bench, hold, visible, capacity)
    return bench.finish(results)


def _capacity(bench: Bench) -> Capacity | None:
    way = bench.choice("capacity")
    return None if way == UNKNOWN else CAPACITIES[way](bench)


def _visible(bench: Bench) -> tuple[float, bool]:
    """Return the smallest fall that the gauge shows, Pa, and whether it was entered."""
    found = bench.value("visible_fall", nominal=True)
    if found is None:
        bench.assume("a fall of the pressure by 1 cmH2O can be seen on the gauge; its division was not entered.")
        return VISIBLE, False
    if found.value <= 0:
        raise BenchError("visible_fall", "Smallest fall that can be seen: enter the division of the gauge, above zero.")
    return found.value, True


def _as_seen(bench: Bench, key: str, visible: float, is_entered: bool) -> Measured | None:
    """Return a pressure held, no finer than the division that was entered."""
    found = bench.value(key)
    step_std = visible / 12**0.5
    if found is None or not is_entered or found.own_std >= step_std:
        return found
    return replace(found, own_std=step_std, own_excess=RECTANGULAR)


def _of(capacity: Capacity, values, ambient: float) -> float:
    return capacity.of(values, None, ambient)


def _compliance(bench: Bench, capacity: Capacity) -> list[Result]:
    """Return the whole compliance, the part that is compressed gas, that of the walls, and the whole at sea level."""
    whole = propagate_measured(lambda *v: _of(capacity, v[:-1], v[-1]), (*capacity.measured, bench.ambient))
    text = f"ambient gas volume per unit of pressure; {capacity.text}"
    results = [bench.result("compliance", whole, convention=text)]
    volume = _rigid_volume(bench)
    if volume is None:
        return results
    gas = propagate_measured(lambda v, p: v / p, (volume, bench.ambient))
    _refuse_less_than_gas(bench, whole, gas)
    is_in_capacity = bench.choice("capacity") == STATED  # then the volume is the first of the values of the capacity
    read = (*capacity.measured, *(() if is_in_capacity else (volume,)), bench.ambient)

    def walls(*values: float) -> float:
        *given, ambient = values
        return _of(capacity, given, ambient) - (given[0] if is_in_capacity else given[-1]) / ambient

    def at_sea_level(*values: float) -> float:
        return walls(*values) + (values[0] if is_in_capacity else values[-2]) / SEA_LEVEL_PA

    return [
        *results, bench.result("gas_compliance", gas),
        bench.result("wall_compliance", propagate_measured(walls, read)),
        bench.result("sea_level_compliance", propagate_measured(at_sea_level, read)),
    ]  # fmt: skip


def _rigid_volume(bench: Bench) -> Measured | None:
    volume = bench.value("rigid_volume", needed=False)
    if volume is not None and volume.value <= 0:
        raise BenchError("rigid_volume", "Gas volume of the system: it must be above zero.")
    return volume


def _refuse_less_than_gas(bench: Bench, whole, gas) -> None:
    """The gas alone takes up its volume over the pressure, or 1.4 times less if it has no time to cool."""
    apart = 2 * (whole.std_uncertainty + gas.std_uncertainty)
    if whole.value + apart >= gas.value / ADIABATIC:
        return
    measured, least = (from_si(one, "mL/cmH2O") for one in (whole.value, gas.value / ADIABATIC))
    message = (
        f"Gas volume of the system: its gas alone takes up {least:.3g} mL/cmH2O or more, and {measured:.3g} was found "
        "for the whole system. Check the volume injected, the pressures and this volume."
    )
    raise BenchError("rigid_volume", message)


def _held(bench: Bench, hold: tuple[Measured, ...], visible: float, capacity: Capacity | None) -> list[Result]:
    """Return the fall in 10 s and, where the capacity is known, the leak that this and the rule itself allow."""
    start, end, time = hold
    if time.value <= 0:
        raise BenchError("hold_time", "Time watched: 0 s shows no fall. Enter the time between the two pressures.")
    fall = propagate_measured(lambda a, b, t: (a - b) / t * LEAST_WATCHED, hold)
    if fall.value < -max(2 * fall.std_uncertainty, 1e-9 * HELD):
        bench.missing.append("Pressure rose: gas is entering or warming up. Close all flows, let it settle, and repeat")
        return []
    took = f"from {_cm(start.value)} to {_cm(end.value)} cmH2O in {time.value:.3g} s"
    results = [bench.result("hold_fall", fall, limit=hold_limit(visible), convention=f"scaled to 10 s; {took}")]
    return results if capacity is None else [*results, *_leaks(bench, hold, visible, capacity, took)]


def _leaks(bench: Bench, hold: tuple[Measured, ...], visible: float, capacity: Capacity, took: str) -> list[Result]:
    def leak(start: float, end: float, time: float, *rest: float) -> float:
        return _of(capacity, rest[:-1], rest[-1]) * (start - end) / time

    def permitted(*values: float) -> float:
        return _of(capacity, values[:-1], values[-1]) * visible / LEAST_WATCHED

    read = (*capacity.measured, bench.ambient)
    allowed = propagate_measured(permitted, read)
    bench.remarks.append(
        f'With this compliance "holds for 10 s" lets {from_si(allowed.value, "mL/min"):.3g} mL/min pass unseen: a fall '
        f"by {_cm(visible)} cmH2O in 10 s."
    )
    text = f"mean over the time watched, {took}; ambient volume; {capacity.text}"
    found = propagate_measured(leak, (*hold, *read))
    return [bench.result("hold_leak", found, convention=text), bench.result("permitted_leak", allowed)]


def _cm(pascal: float) -> str:
    return f"{from_si(pascal, 'cmH2O'):.3g}"


def hold_limit(visible: float) -> Limit:
    """Return the ten-second rule: no fall that can be seen on the gauge, Pa."""
    shown = from_si(visible, "cmH2O")
    return limit(
        "hold_fall", "holds-10-s", f"Holds for 10 s: falls by no more than {shown:.3g} cmH2O", (None, shown), "cmH2O",
        "FDA Anesthesia Apparatus Checkout Recommendations, step 11", "1993", SEEN,
        note='It says "holds"; read as no fall that can be seen on the gauge. What this allows depends on the '
             "compliance.",
    )  # fmt: skip


# --- what must have been done ---


def _capacity_known(bench: Bench) -> Unmet | None:
    if _capacity(bench) is not None:
        return None
    why = (
        "The compliance is not known, so that the time the pressure holds says nothing of the leak: inject a known "
        "volume, or state volume and compliance."
    )
    return Unmet(why, Reason.NOT_KNOWN, fail_stands=False)


def _at_30(bench: Bench) -> Unmet | None:
    start = bench.value("hold_start")
    if abs(start.value - HELD) <= BAND * HELD * (1 + 1e-9):
        return None
    why = f"The pressure was {_cm(start.value)} cmH2O: bring it to 30 cmH2O, within {BAND:.0%}."
    return Unmet(why, fail_stands=start.value < HELD)


def _ten_seconds(bench: Bench) -> Unmet | None:
    time = bench.value("hold_time")
    if time.value >= LEAST_WATCHED * (1 - 1e-9):
        return None
    return Unmet(f"The pressure was watched for {time.value:.3g} s: watch it for 10 s or longer.")


_HOLD = Challenge("30 cmH2O watched for 10 s, the compliance known", first_unmet(_capacity_known, _at_30, _ten_seconds))
_LEAK = Challenge("30 cmH2O watched for 10 s", first_unmet(_at_30, _ten_seconds))
_REPORTED = NoChallenge("it is reported only")
_PART = "No limit of the compliance is published that could be looked up; the manufacturer's instructions may give one."
_COMPLIANCES = ("hold_fall", "hold_leak")


def _pressure(key: str, label: str, **more) -> ReadingSpec:
    return reading(key, label, Dimension.PRESSURE, first="cmH2O", **more)


def _for(key: str, label: str, dimension: Dimension, way: str, **more) -> ReadingSpec:
    return reading(
        key, label, dimension, required=False, asked=True, judges=_COMPLIANCES, wanted=with_option("capacity", way),
        **more,
    )  # fmt: skip


def _leak_limit(rule: str, title: str, most: float, source: str, edition: str, basis: str, built) -> Limit:
    return limit("hold_leak", rule, title, (None, most), "mL/min", source, edition, basis, built=built)


_LIMITS = (
    _leak_limit("iso80601-150", "No more than 150 mL/min at 3 kPa", 150, "ISO 80601-2-13", "2011", FROM_MEMORY,
                (2011, None)),
    _leak_limit("iso8835-150", "No more than 150 mL/min at 3 kPa", 150, "ISO 8835-2", "1999", FROM_MEMORY,
                (1999, 2011)),
    _leak_limit("f1208-300", "No more than 300 mL/min at 30 cmH2O", 300, "ASTM F1208", "F1208-89", FROM_MEMORY,
                (None, 1999)),
)  # fmt: skip

COMPLIANCE = Test(
    code="breathing-compliance",
    family="breathing system",
    title="Breathing system compliance and ten-second rule",
    purpose=(
        "Measure how much gas the breathing system takes up as its pressure rises, and judge by that how well it holds "
        "30 cmH2O. Close the patient end,{ventilator| set the selector as in use,} close the APL valve and all "
        "flows; inject a known volume from a syringe filled at ambient pressure within two seconds, read the pressure "
        "before and after, then watch it from 30 cmH2O on for ten seconds or longer. A bag left on adds its own "
        "compliance and hides a leak; a leak during the injection shows too large a compliance; a sampling line left "
        "on draws gas."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "Do not go above 40 cmH2O with the syringe: a small rigid system rises 20 cmH2O with 100 mL.",
        "Open the APL valve afterwards and check that the pressure falls; never leave it closed.",
    ),
    readings=(
        _for("injected_volume", "Volume injected", Dimension.VOLUME, INJECTED,
             help="from a syringe filled at ambient pressure"),
        _for("injected_before", "Pressure before injecting", Dimension.PRESSURE, INJECTED, first="cmH2O"),
        _for("injected_after", "Pressure after injecting", Dimension.PRESSURE, INJECTED, first="cmH2O"),
        reading("rigid_volume", "Gas volume of the system", Dimension.VOLUME, first="L", required=False, asked=True,
                judges=_COMPLIANCES, wanted=with_option("capacity", INJECTED, STATED),
                help="canister, hoses, blocks; with an injected volume it tells gas and walls apart"),
        replace(_for("compliance", "Compliance of hoses and bag", Dimension.COMPLIANCE, STATED, first="mL/cmH2O"),
                asked=False),
        _pressure("hold_start", "Pressure at the start", judges=_COMPLIANCES, help="30 cmH2O"),
        _pressure("hold_end", "Pressure at the end", judges=_COMPLIANCES),
        reading("hold_time", "Time watched", Dimension.TIME, judges=_COMPLIANCES, help="10 s or longer"),
        _pressure("visible_fall", "Smallest fall that can be seen", required=False, stated=True, judges=_COMPLIANCES,
                  help="one division of the gauge; 1 cmH2O without an entry"),
    ),
    tables=(),
    choices=(
        ChoiceSpec("capacity", "Compliance of the whole system",
                   ((INJECTED, "from an injected volume"), (STATED, "stated volume and compliance"),
                    (UNKNOWN, "not known")), INJECTED),
    ),
    rated=(),
    results=(
        ResultSpec("compliance", "Compliance", Dimension.COMPLIANCE, "mL/cmH2O",
                   "ambient gas volume per unit of pressure", _REPORTED, unjudged=_PART),
        ResultSpec("gas_compliance", "Compliance of the gas alone", Dimension.COMPLIANCE, "mL/cmH2O",
                   "gas volume over the ambient pressure, at constant temperature", _REPORTED, unjudged=_PART),
        ResultSpec("wall_compliance", "Compliance of the walls", Dimension.COMPLIANCE, "mL/cmH2O",
                   "compliance less that of the gas alone", _REPORTED, unjudged=_PART),
        ResultSpec("sea_level_compliance", "Compliance at sea level", Dimension.COMPLIANCE, "mL/cmH2O",
                   "that of the walls and that of the gas at 101.325 kPa", _REPORTED, unjudged=_PART),
        ResultSpec("hold_fall", "Fall of the pressure in 10 s", Dimension.PRESSURE, "cmH2O", "scaled to 10 s", _HOLD,
                   needed=True, own_limit=True),
        ResultSpec("hold_leak", "Leak by the pressure held", Dimension.FLOW, "mL/min",
                   "mean over the time watched; ambient volume", _LEAK,
                   needed=lambda bench: bench.choice("capacity") != UNKNOWN),
        ResultSpec("permitted_leak", "Leak that the ten-second rule allows", Dimension.FLOW, "mL/min",
                   "compliance times the smallest fall that can be seen, in 10 s; ambient volume", _REPORTED,
                   unjudged="It says what the rule is worth here; the leak itself is judged."),
    ),
    default_limits=_LIMITS,
    source="FDA 1993 checkout, step 11; isothermal gas; limits as named",
    evaluate=evaluate_compliance,
    pairs=(
        NeverAbove(("injected_before", ""), ("injected_after", ""), "Gas that is injected raises the pressure."),
        NeverAbove(("hold_end", ""), ("hold_start", ""), "Gas only escapes, so the pressure falls with time."),
    ),
)  # fmt: skip
