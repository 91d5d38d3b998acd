"""The one-way valves of a circle: what holds gas back against them, and what they cost in their own direction.

Each of the two is tried both ways. A disc that does not close passes as much backwards as forwards; one that does not
open needs more pressure at a small flow than it may need at the largest. The pressure at 60 L/min follows from readings
at lower flows by a power law, and carries what its exponent leaves open.
"""

from dataclasses import replace

from .challenges import Challenge, NoChallenge, Unmet
from .declarations import ChoiceSpec, Context, ReadingSpec, ResultSpec, TableSpec, Test
from .errors import BenchError
from .forward_flow import FORWARD_ONLY, forward_curve, forward_pairs
from .impossible import NeverCrosses
from .limits import COMMON_PRACTICE, FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .power_law import EXPONENT, NEAR, Pairs, pressure_at, usable_pairs
from .propagation import Measured, propagate_measured
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading, with_option

SIDES = {"inspiratory": "Inspiratory valve", "expiratory": "Expiratory valve"}
FULL_FLOW = to_si(60, "L/min")
REVERSE_PRESSURE = to_si(40, "cmH2O")
LEAST_REVERSE = 0.9 * REVERSE_PRESSURE  # 10 % below, as for the leak tests; common practice, no source
STUCK_OPEN = 0.5  # share of the forward flow above which a disc is called open and not leaking; common practice
BY_FLOW, BY_BAG = "flow", "bag"


def evaluate_one_way(sheet: Sheet, context: Context) -> Evaluation:
    """Return for each valve what it needs forwards and what passes backwards. Raises BenchError (see Test)."""
    bench = Bench(ONE_WAY, sheet, context)
    method = bench.choice("reverse")
    results: list[Result] = []
    tables = {}
    for side in SIDES:
        pairs = tables[f"{side}_forward"] = forward_pairs(bench, f"{side}_forward")
        results += _forward(bench, side, pairs)
        results += _backward(bench, side, pairs) if method == BY_FLOW else _held_by_bag(bench, side)
    judge = bench.limit("inspiratory_resistance")
    return bench.finish(results, forward_curve(bench, tables, "Forward pressure against flow", judge))


def _forward(bench: Bench, side: str, pairs: Pairs) -> list[Result]:
    results = []
    if needed := _needed_below(pairs):
        flow, pressure = needed
        at = f"Read at {from_si(flow.value, 'L/min'):.3g} L/min."
        stuck = " No gas passed: the disc is stuck shut." if flow.value == 0 and pressure.value > 0 else ""
        results.append(bench.result(f"{side}_forward_pressure", pressure.estimate, remark=f"{at}{stuck}"))
    if found := pressure_at(pairs, FULL_FLOW, beyond=True):
        spec = bench.test.result_spec(f"{side}_resistance")
        results.append(bench.result(spec.key, found.estimate, convention=f"{spec.convention}; {found.how}"))
    return results


def _needed_below(pairs: Pairs) -> tuple[Measured, Measured] | None:
    """Return the reading with the highest pressure of those up to 60 L/min."""
    below = [pair for pair in pairs if pair[0].value <= (1 + NEAR) * FULL_FLOW]
    return max(below, key=lambda pair: pair[1].value, default=None)


def _backward(bench: Bench, side: str, pairs: Pairs) -> list[Result]:
    flow, held = bench.value(f"{side}_reverse_flow"), bench.value(f"{side}_reverse_pressure")
    if (flow is None) != (held is None):
        bench.missing.append(f"{SIDES[side]}: both the reverse flow and the reverse pressure")
    if flow is None or held is None:
        return []
    if held.value < 0:
        raise BenchError(
            f"{side}_reverse_pressure",
            f"{SIDES[side]}, reverse pressure: {from_si(held.value, 'kPa'):.3g} kPa is below zero. Enter the pressure "
            "on the side that the disc closes against, as a number above zero.",
        )  # fmt: skip
    at = f"at a reverse pressure of {from_si(held.value, 'kPa'):.3g} kPa; ambient volume"
    return [bench.result(f"{side}_reverse_leak", flow.estimate, convention=at), *_share(bench, side, pairs)]


def _share(bench: Bench, side: str, pairs: Pairs) -> list[Result]:
    """Return the reverse flow as a share of the forward flow that the same pressure drives."""
    flow, held = bench.value(f"{side}_reverse_flow"), bench.value(f"{side}_reverse_pressure")
    usable = usable_pairs(pairs)
    if not usable or held.value <= 0:
        return []
    forward, pressure = min(usable, key=lambda pair: max(pair[1].value / held.value, held.value / pair[1].value))

    def share(reverse: float, at: float, q: float, p: float, n: float) -> float:
        return reverse / (q * (at / p) ** (1 / n))

    found = propagate_measured(share, (flow, held, forward, pressure, EXPONENT))
    open_disc = "As much passes backwards as forwards: the disc is stuck open or missing."
    remark = open_disc if found.value >= STUCK_OPEN else ""
    return [bench.result(f"{side}_reverse_share", found, remark=remark)]


def _held_by_bag(bench: Bench, side: str) -> list[Result]:
    seen = bench.value(f"{side}_holds")
    return [] if seen is None else [bench.result(f"{side}_holds", seen.estimate)]


def _gas_passed(side: str) -> Challenge:
    def unmet(bench: Bench) -> Unmet | None:
        pairs = forward_pairs(bench, f"{side}_forward")
        if any(flow.value > 0 for flow, _ in pairs):
            return None
        return Unmet("No gas passed the valve forwards: raise the pressure until it opens, or to 0.6 kPa.")

    return Challenge("gas driven forwards through the valve, at 60 L/min or less", unmet)


def _law_holds(side: str) -> Challenge:
    def unmet(bench: Bench) -> Unmet | None:
        found = pressure_at(forward_pairs(bench, f"{side}_forward"), FULL_FLOW, beyond=True)
        return found and found.unmet

    return Challenge("60 L/min through the valve, or lower flows whose pressures follow one power law", unmet)


def _pressed(side: str) -> Challenge:
    def unmet(bench: Bench) -> Unmet | None:
        held = bench.value(f"{side}_reverse_pressure")
        if held is None or held.value >= LEAST_REVERSE * (1 - 1e-9):
            return None
        shown = f"{from_si(held.value, 'cmH2O'):.3g} cmH2O"
        return Unmet(f"The reverse pressure was {shown}: bring it to 40 cmH2O, or as high as it goes.")

    return Challenge("40 cmH2O against the closed valve", unmet)


_BAG = "anesthesia.org wl97 acl3"
_CIRCLE = ("ISO 8835-2", "ISO 8835-2", FROM_MEMORY)
_REPLACED = "ISO 80601-2-13 replaced ISO 8835-2; its own figure could not be looked up."
_PRACTICE = ("common practice, no source", "-", COMMON_PRACTICE)


def _limits(side: str) -> tuple[Limit, ...]:
    return (
        limit(f"{side}_resistance", "iso8835-resistance", "No more than 0.6 kPa at 60 L/min", (None, 0.6), "kPa",
              *_CIRCLE, note=f"Of the whole limb of the circle, each way. {_REPLACED}"),
        limit(f"{side}_forward_pressure", "iso8835-resistance", "No more than 0.6 kPa up to 60 L/min", (None, 0.6),
              "kPa", *_CIRCLE, note="What may be needed at 60 L/min may be needed at no smaller flow."),
        limit(f"{side}_reverse_leak", "reverse-60", "No more than 60 mL/min backwards", (None, 60), "mL/min",
              *_PRACTICE, note="60 mL/min gives back 2 mL in 2 s: less than 1 % of a breath of 300 mL."),
        limit(f"{side}_reverse_share", "reverse-10-percent", "No more than 10 % of the forward flow", (None, 10), "%",
              *_PRACTICE, note="A disc that closes passes less than 1 %, one that is stuck open about all."),
        limit(f"{side}_holds", "must-be-yes", "Holds 40 cmH2O", (1, None), "yes/no", _BAG, "1997", SEEN),
    )  # fmt: skip


_FLOWING, _BAGGED = with_option("reverse", BY_FLOW), with_option("reverse", BY_BAG)


def _readings(side: str, label: str) -> tuple[ReadingSpec, ...]:
    judged = (f"{side}_reverse_leak", f"{side}_reverse_share")
    holds = observation(
        f"{side}_holds", f"{label}: does it hold 40 cmH2O against its direction?", required=False, asked=True,
        judges=(f"{side}_holds",), help=_BAG_HELP[side],
    )  # fmt: skip
    return (
        reading(f"{side}_reverse_flow", f"{label}: reverse flow", Dimension.FLOW, first="mL/min", required=False,
                asked=True, judges=judged, wanted=_FLOWING, help="the flow that holds the reverse pressure"),
        reading(f"{side}_reverse_pressure", f"{label}: reverse pressure", Dimension.PRESSURE, first="cmH2O",
                required=False, asked=True, judges=judged, wanted=_FLOWING,
                help="40 cmH2O; where so much cannot be reached, the highest that the flow holds"),
        replace(holds, wanted=_BAGGED),
    )  # fmt: skip


_BAG_HELP = {
    "inspiratory": "a test bag on the inspiratory side, filled to 40 cmH2O, stays full",
    "expiratory": "with 40 cmH2O in the circle, a test bag on the expiratory side stays empty",
}


def _table(side: str, label: str) -> TableSpec:
    judged = (f"{side}_resistance", f"{side}_forward_pressure", f"{side}_reverse_share")
    return TableSpec(
        f"{side}_forward", f"{label}: pressure forwards",
        (reading("flow", "Flow", Dimension.FLOW, judges=judged),
         reading("pressure", "Pressure across the valve", Dimension.PRESSURE, first="cmH2O", judges=judged)),
        1, 2, "60 L/min where the supply gives it, else two lower flows, one about twice the other; for a valve that "
        "does not open, 0 L/min and the pressure before it", sets=("flow",),
    )  # fmt: skip


def _by(way: str):
    return lambda bench: bench.choice("reverse") == way


def _results(side: str, label: str) -> tuple[ResultSpec, ...]:
    return (
        ResultSpec(f"{side}_resistance", f"{label}: pressure at 60 L/min", Dimension.PRESSURE, "kPa",
                   "difference across what lies between the two taps", _law_holds(side), needed=True),
        ResultSpec(f"{side}_forward_pressure", f"{label}: highest pressure forwards", Dimension.PRESSURE, "kPa",
                   "of the readings up to 60 L/min", _gas_passed(side), needed=True),
        ResultSpec(f"{side}_reverse_leak", f"{label}: reverse leak", Dimension.FLOW, "mL/min",
                   "at the reverse pressure read; ambient volume", _pressed(side), needed=_by(BY_FLOW)),
        ResultSpec(f"{side}_reverse_share", f"{label}: reverse flow of forward flow", Dimension.FRACTION, "%",
                   "reverse flow over the forward flow at the same pressure, by an exponent between 1 and 2",
                   _pressed(side), needed=_by(BY_FLOW)),
        ResultSpec(f"{side}_holds", f"{label}: holds 40 cmH2O", Dimension.OBSERVATION, "yes/no", "as seen",
                   NoChallenge("the pressure that a bag was seen to hold, or not to hold, is the challenge"),
                   needed=_by(BY_BAG)),
    )  # fmt: skip


ONE_WAY = Test(
    code="one-way-valves",
    family="breathing system",
    title="One-way valves",
    purpose=(
        "Measure the pressure that each one-way valve of the circle needs forwards and the flow that passes it "
        "backwards. Take the valve apart from the rest of the circle, or close all other ways; put the manometer "
        "across the valve alone, for a limb with absorber and hoses is another figure. A disc that is missing, "
        "upside down, stuck by moisture or not flat, and a cage pushed out of its seat are the usual faults; a "
        "missing disc shows nothing in the forward direction, so that only the reverse test finds it."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "Raise the reverse pressure slowly and no higher than 50 cmH2O: a disc that gives way lets the pressure "
        "through at once.",
        "Handle discs by the edge and dry them: a wet disc sticks shut, a bent one stays open. Put the covers back "
        "and repeat the leak test of the breathing system.",
    ),
    readings=tuple(spec for side, label in SIDES.items() for spec in _readings(side, label)),
    tables=tuple(_table(side, label) for side, label in SIDES.items()),
    choices=(
        ChoiceSpec("reverse", "Reverse test", ((BY_FLOW, "by the flow that holds a reverse pressure"),
                                               (BY_BAG, "by test bags at 40 cmH2O")), BY_FLOW),
    ),
    rated=(),
    results=tuple(spec for side, label in SIDES.items() for spec in _results(side, label)),
    default_limits=tuple(one for side in SIDES for one in _limits(side)),
    source=f"ISO 8835-2, limit from memory; {_BAG} for the test bags; power law of flow through a fixed passage",
    evaluate=evaluate_one_way,
    pairs=tuple(NeverCrosses(f"{side}_forward", f"{side}_forward", "flow", "pressure", FORWARD_ONLY)
                for side in SIDES),
)  # fmt: skip
