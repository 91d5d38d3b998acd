"""Oxygen mixture: the oxygen fraction over a grid of settings, and what the ratio protection does."""

from dataclasses import replace
from math import hypot, sqrt

from .challenges import Challenge, Reason, Unmet, first_unmet
from .decay import STANDARD_K, STANDARD_PA_ABS
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .judging import judged_result
from .limits import COMMON_PRACTICE, LOCAL, SEEN, Limit
from .measuring import Bench, Row
from .pictures import limit_marks
from .propagation import Measured, difference, propagate_measured
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Curve, Evaluation, Result, Series
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading
from .uncertainty import RECTANGULAR, Estimate

OXYGEN_IN = {"nitrous oxide": 0.0, "air": 0.21, "other": 0.0}
"""Oxygen fraction of the other gas. Air: 0.209 rounded to the 0.21 of clinical use (common practice, no source)."""

NOMINAL_FRACTION = 0.25  # 3:1, ASA Monitor 79(10):42
EXCESS_FRACTION = 0.2  # oxygen that a setting asks for at most, so that the protection has something to limit
_AIR_FLOOR = "air-19"
_MOVED = 0.05  # a flow that differs from its setting by more than 5 % was changed by the protection


def evaluate(sheet: Sheet, context: Context) -> Evaluation:
    """Return the lowest oxygen fraction, the flow left with oxygen off, and the kind of protection."""
    bench = Bench(TEST, sheet, context)
    rows = _rows(bench)
    mixed = _mixed(bench)
    results: list[Result] = []
    if mixed:
        number, row, lowest = min(mixed, key=lambda one: one[2].value)
        results.append(_lowest(bench, number, row, lowest))
    results += _oxygen_off(bench, rows)
    results += _protection(bench, rows)
    judge = results[0].limit if mixed else None
    curves = (_curve(bench, mixed, judge),) if mixed else ()
    return bench.finish(results, curves)


def _rows(bench: Bench) -> list[tuple[int, Row]]:
    return bench.rows("grid", nominal=("oxygen_set", "other_set"))


def _mixed(bench: Bench) -> list[tuple[int, Row, Estimate]]:
    """Return the rows that give an oxygen fraction, with that."""
    in_other = OXYGEN_IN[bench.choice("other_gas")]
    found = ((number, row, _fraction(bench, number, row, in_other)) for number, row in _rows(bench))
    return [(number, row, fraction) for number, row, fraction in found if fraction is not None]


def _lowest(bench: Bench, number: int, row: Row, lowest: Estimate) -> Result:
    """Return the lowest fraction; with air it is judged by the oxygen of air, not by the rule of ratio devices."""
    if bench.choice("other_gas") != "air":
        return bench.result("lowest_fraction", lowest, remark=_where(number, row))
    result = bench.result("lowest_fraction", lowest, remark=_where(number, row), limit=_air_limit())
    if result.limit.basis != LOCAL:
        spec = bench.test.result_spec("lowest_fraction")
        unmet = spec.challenge.unmet(bench.aside())
        result = judged_result(spec, lowest, _air_limit(), unmet=unmet, remark=_where(number, row))
    return replace(result, convention=f"{result.convention}; with air: judged is that no less than air comes out")


def _air_limit() -> Limit:
    return limit(
        "lowest_fraction", _AIR_FLOOR, "With air: at least 19 % oxygen", (19, None), "%",
        "ASTM F1850, quoted in US anaesthesia textbook, 6th ed., p. 231", "F1850-00", SEEN,
        note="Air alone holds 21 % oxygen and is no hypoxic mixture. The 25 % of ratio devices is for gases without "
             "oxygen.",
    )  # fmt: skip


def _no_oxygen_in(bench: Bench) -> bool:
    return bench.choice("other_gas") != "air"


def _asked_too_much(bench: Bench) -> Unmet | None:
    """The other gas was offered in such excess that a protection had to act."""
    rows = [row for _, row in _rows(bench)]
    if not rows or any(_is_excess(row) for row in rows):
        return None
    asked = min((share for row in rows if (share := _share_set(row)) is not None), default=None)
    words = "no other gas was set" if asked is None else f"the least oxygen asked for was {asked:.0%}"
    return Unmet(f"Nothing had to be limited: {words}. Set four times as much of the other gas as of oxygen, or more.")


def _share_set(row: Row) -> float | None:
    oxygen, other = row["oxygen_set"].value, row["other_set"].value
    return oxygen / (oxygen + other) if other > 0 else None


def _is_excess(row: Row) -> bool:
    share = _share_set(row)
    return share is not None and share <= EXCESS_FRACTION * (1 + 1e-9)


def _agree(bench: Bench) -> Unmet | None:
    """The analyser and the flows do not contradict each other."""
    for number, row in _rows(bench):
        if words := _contradiction(bench, number, row):
            return Unmet(words, Reason.CONTRADICTED)
    return None


def _has_own_reference(row: Row) -> bool:
    """Whether the fraction of a row rests on a flowmeter of the machine itself."""
    return "oxygen_fraction" not in row and not (_oxygen_flow(row).instrument and row["other_flow"].instrument)


def _measured_apart(bench: Bench) -> Unmet | None:
    """The lowest fraction rests on an analyser or on instruments, not on the machine's own flowmeters."""
    number, row, _ = min(_mixed(bench), key=lambda one: one[2].value, default=(0, {}, None))
    if not row or not _has_own_reference(row):
        return None
    why = (
        f"Row {number} rests on the machine's own flowmeter, which is under test: one that reads wrongly would prove "
        "itself. Read an oxygen analyser, or both flows with an instrument, and name it."
    )
    return Unmet(why, Reason.OWN_REFERENCE)


def _moved_by_instrument(bench: Bench) -> Unmet | None:
    """What the protection moved was read with an instrument, and moved by more than both flowmeters may err."""
    asked = [(number, row) for number, row in _rows(bench) if _asks_too_much(row)]
    for number, row in asked:
        if any(_is_moved(*pair) and not pair[1].instrument for pair in _pairs(row)):
            why = (
                f"Row {number}: the flow was read on the machine's own flowmeter, which is under test. Read it with "
                "an instrument, and name it."
            )
            return Unmet(why, Reason.OWN_REFERENCE)
        if any(_is_moved(*pair) for pair in _pairs(row)) and not any(
            _moves_clearly(bench, *pair) for pair in _pairs(row)
        ):
            why = (
                f"Row {number}: the flow differs from its setting by no more than the machine's flowmeter and the "
                "instrument may err. Ask for less oxygen, so that more has to be limited."
            )
            return Unmet(why, Reason.TOO_COARSE, fail_stands=False)
    return None


def _pairs(row: Row) -> list[tuple[Measured, Measured, int]]:
    """Return (set, measured, which way a protection moves it) of oxygen and the other gas."""
    return [(row["oxygen_set"], _oxygen_flow(row), 1), (row["other_set"], row["other_flow"], -1)]


def _is_moved(setting: Measured, flow: Measured, way: int) -> bool:
    return way * (flow.value - setting.value) > _MOVED * setting.value


def _moves_clearly(bench: Bench, setting: Measured, flow: Measured, way: int) -> bool:
    apart = difference(flow, bench.tube(setting, "Flows set"))
    return _is_moved(setting, flow, way) and way * apart.value > apart.expanded()


def _other_was_on(bench: Bench) -> Unmet | None:
    """The control of the other gas was open while oxygen was off."""
    rows = _rows(bench)
    if any(row["oxygen_set"].value == 0 and row["other_set"].value > 0 for _, row in rows):
        return None
    offered = bench.value("oxygen_off_set")
    if offered is None:
        why = "How much of the other gas was set while oxygen was off is not stated."
        return Unmet(why, Reason.NOT_KNOWN)
    if offered.value >= to_si(1, "L/min") * (1 - 1e-9):
        return None
    return Unmet("Less than 1 L/min of the other gas was set while oxygen was off: open its control further.")


def _oxygen_flow(row: Row) -> Measured:
    return row.get("oxygen_flow") or row["oxygen_set"]


def computed_fraction(oxygen: float, other: float, in_other: float) -> float:
    """Return the oxygen fraction of two mixed flows in one unit, clamped to 0..1 (rounding, steps of a derivative).

    in_other  oxygen fraction of the other gas, 0..1
    Raises ZeroDivisionError if both flows are zero: the fraction is not defined.
    """
    return min(1.0, max(0.0, (oxygen + in_other * other) / (oxygen + other)))


def _fraction(bench: Bench, number: int, row: Row, in_other: float) -> Estimate | None:
    """Return the fraction of one row: the analyser's if it was read, else computed from the flows."""
    analysed, oxygen, other = row.get("oxygen_fraction"), _oxygen_flow(row), row["other_flow"]
    if oxygen.value + other.value == 0:
        if analysed is None:
            bench.remarks.append(f"Row {number}: no gas flows, so there is no mixture to test.")
            return None
        return analysed.estimate
    if analysed is None:
        return _from_flows(bench, row, in_other)
    if words := _contradiction(bench, number, row):
        bench.remarks.append(words)
    return analysed.estimate


def _from_flows(bench: Bench, row: Row, in_other: float) -> Estimate:
    """Return the fraction that two flows give: each read on a scale that errs by itself in its gas and its density."""
    oxygen, other = _oxygen_flow(row), row["other_flow"]
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


def _contradiction(bench: Bench, number: int, row: Row) -> str:
    """Say that the analyser contradicts the flows by more than both can explain (at least 3 % oxygen), else nothing."""
    analysed, oxygen, other = row.get("oxygen_fraction"), _oxygen_flow(row), row["other_flow"]
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


def _where(number: int, row: Row) -> str:
    oxygen, other = (from_si(row[key].value, "L/min") for key in ("oxygen_set", "other_set"))
    source = "analyser" if "oxygen_fraction" in row else "calculated from the flows"
    return f"Row {number}: oxygen set {oxygen:.3g} L/min, other gas set {other:.3g} L/min; {source}."


def _oxygen_off(bench: Bench, rows: list[tuple[int, Row]]) -> list[Result]:
    """Return the largest flow of the other gas with oxygen off, from its reading and rows with oxygen set to 0."""
    off = [row["other_flow"] for _, row in rows if row["oxygen_set"].value == 0 and row["other_set"].value > 0]
    stated = bench.value("oxygen_off_flow", needed=not off)
    bench.value("oxygen_off_set", nominal=True)
    if stated is not None:
        off.append(stated)
    if not off:
        return []
    worst = max(off, key=lambda flow: flow.value)
    return [bench.result("oxygen_off_flow", worst.estimate, unjudged=_with_air(bench))]


def _with_air(bench: Bench) -> str:
    """Return why a rule of gases without oxygen does not judge, empty where it does."""
    return "" if _no_oxygen_in(bench) else "Air may flow without oxygen: it holds 21 % itself."


def _protection(bench: Bench, rows: list[tuple[int, Row]]) -> list[Result]:
    """Return whether anything held the ratio (1 or 0), with its kind in the remark."""
    moves = bench.value("control_moves")
    asked = [row for _, row in rows if _asks_too_much(row)]
    if not asked:
        if rows:
            bench.remarks.append("No row set less than 25 % oxygen, so the ratio protection was not tested.")
        return []
    asked = [row for row in asked if _is_excess(row)] or asked
    raised, cut = any(map(_is_raised, asked)), any(map(_is_cut, asked))
    acts = all(_is_raised(row) or _is_cut(row) for row in asked)
    kind = _kind(raised, cut, None if moves is None else moves.value == 1)
    return [bench.result("ratio_protection", Estimate(float(acts)), remark=kind, unjudged=_with_air(bench))]


def _is_raised(row: Row) -> bool:
    return _is_moved(*_pairs(row)[0])


def _is_cut(row: Row) -> bool:
    return _is_moved(*_pairs(row)[1])


def _asks_too_much(row: Row) -> bool:
    oxygen, other = row["oxygen_set"].value, row["other_set"].value
    return other > 0 and oxygen / (oxygen + other) < NOMINAL_FRACTION * (1 - 1e-9)


def _kind(raised: bool, cut: bool, moves: bool | None) -> str:
    if raised:
        return "linked controls: the oxygen flow rose with the other gas"
    if cut and moves:
        return "linked controls: the oxygen control turned the other gas down"
    if cut and moves is None:
        return "the flow of the other gas was held back; whether its control turned is not stated"
    if cut:
        return "flow limiting: the flow of the other gas was held back, its control did not turn"
    return "no ratio protection: both flows stayed as set with less than 25 % oxygen"


def _curve(bench: Bench, mixed: list[tuple[int, Row, Estimate]], judge: Limit | None) -> Curve:
    x_unit, y_unit = bench.unit("grid", "oxygen_set"), bench.unit("grid", "other_set")
    groups: dict[float, list[tuple[float, float]]] = {}
    for _, row, fraction in mixed:
        point = (from_si(row["oxygen_set"].value, x_unit), from_si(fraction.value, "%"))
        groups.setdefault(row["other_set"].value, []).append(point)
    series = tuple(
        Series(f"other gas set {from_si(other, y_unit):.3g} {y_unit}", tuple(sorted(found)))
        for other, found in sorted(groups.items())
    )
    marks = tuple(limit_marks("y", judge, "%"))
    title = "Oxygen fraction over the settings"
    return Curve("grid", title, "oxygen flow set", x_unit, "oxygen fraction", "%", series, marks)


_LIMITS = (
    limit(
        "lowest_fraction", "nominal-25", "At least 25 % oxygen", (25, None), "%",
        "ASA Monitor 79(10):42; Anaesthesia 2012; 67: 660-68; national society requirements, Kenya", "2015; 2012", SEEN,
        note="3:1 is exactly 25 %.",
    ),
    limit(
        "lowest_fraction", "floor-21", "At least 21 % oxygen", (21, None), "%",
        'trainee notebook "Anaesthetic Machine Check" (secondary); minimum commonly accepted for a 25 % '
        'device', "-", SEEN,
    ),
    limit(
        "lowest_fraction", "astm-f1850-19", "At least 19 % oxygen", (19, None), "%",
        "ASTM F1850, quoted in US anaesthesia textbook, 6th ed., p. 231", "F1850-00", SEEN,
        note="Published for an oxygen supply below the manufacturer's minimum; used here as the lowest value for "
             "ratio devices.",
    ),
    limit(
        "oxygen_off_flow", "other-stops", "Other gas shut off: no more than 100 mL/min", (None, 100), "mL/min",
        "must stop: Anaesthesia 2012; 67: 660-68, step 5; the 100 mL/min flowmeter tolerance is common practice",
        "2012", COMMON_PRACTICE,
    ),
    limit(
        "ratio_protection", "must-act", "Must act", (1, None), "yes/no", "Anaesthesia 2012; 67: 660-68, step 5", "2012",
        SEEN,
    ),
)  # fmt: skip

_MIXED = ("lowest_fraction", "ratio_protection")
_EXCESS = "the other gas offered in excess, four times the oxygen or more"
_ASKED = Challenge(
    f"{_EXCESS}; read with an analyser or instruments, not on the machine's own flowmeters",
    first_unmet(_asked_too_much, _agree, _measured_apart),
)
_MOVES = Challenge(
    f"{_EXCESS}; what was limited read with an instrument, not on the machine's own flowmeters",
    first_unmet(_asked_too_much, _moved_by_instrument),
)

TEST = Test(
    code="oxygen-mixture",
    family="mixture",
    title="Oxygen fraction and ratio protection",
    purpose="Measure the lowest oxygen fraction that the flow controls can deliver.",
    cautions=(
        NEVER_ON_A_PATIENT,
        "Scavenge the gas. A pass does not show that the pipe carries oxygen, nor that the machine is safe when the "
        "oxygen supply fails.",
        "Below 1 L/min total flow, a ratio device may hold more than 25 % oxygen; this is not a fault.",
    ),
    readings=(
        reading("oxygen_off_flow", "Flow of the other gas with oxygen turned off", Dimension.FLOW,
                gas="other", help="or enter a row with oxygen set to 0; a machine with a basal oxygen flow may deliver some",
                judges=("oxygen_off_flow",)),
        reading("oxygen_off_set", "Other gas set while oxygen was off", Dimension.FLOW, required=False, stated=True,
                help="1 L/min or more, so that there is something to stop", judges=("oxygen_off_flow",)),
        observation("control_moves", "Did one flow control turn the other?", required=False,
                    help="yes if turning one flow control also turned the other",
                    unjudged="It says how the protection works, not whether it does."),
    ),
    tables=(
        TableSpec(
            "grid", "Settings and flows",
            (
                reading("oxygen_set", "Oxygen flow set", Dimension.FLOW, stated=True,
                        help="before the ratio device acts", gas="oxygen", judges=(*_MIXED, "oxygen_off_flow")),
                reading("other_set", "Other gas flow set", Dimension.FLOW, stated=True,
                        help="as set on the control", gas="other", judges=(*_MIXED, "oxygen_off_flow")),
                reading("oxygen_flow", "Oxygen flow measured", Dimension.FLOW, required=False,
                        help="after the ratio device has acted, with an instrument", gas="oxygen",
                        judges=_MIXED),
                reading("other_flow", "Other gas flow measured", Dimension.FLOW,
                        help="after the ratio device has acted, with an instrument", gas="other", judges=(*_MIXED, "oxygen_off_flow")),
                reading("oxygen_fraction", "Oxygen fraction measured", Dimension.FRACTION, required=False,
                        help="by an analyser at the outlet; if left empty, it is calculated from the flows",
                        judges=("lowest_fraction",)),
            ),
            1, 6, "set too little oxygen in most rows; rows in any order",
        ),
    ),
    choices=(
        ChoiceSpec("other_gas", "Other gas",
                   (("nitrous oxide", "nitrous oxide"), ("air", "air"),
                    ("other", "another gas that contains no oxygen")),
                   "nitrous oxide"),
    ),
    rated=(),
    results=(
        ResultSpec("lowest_fraction", "Lowest oxygen fraction", Dimension.FRACTION, "%",
                    "volume fraction of dry gas; lowest of all rows; from the analyser if read, otherwise from the "
                    "flows", _ASKED, needed=True),
        ResultSpec("oxygen_off_flow", "Other gas with oxygen off", Dimension.FLOW, "mL/min", "largest flow read",
                    Challenge("oxygen off and the other gas set to 1 L/min or more", _other_was_on), needed=True),
        ResultSpec("ratio_protection", "Ratio protection acts", Dimension.OBSERVATION, "yes/no",
                    "yes if at each setting of too little oxygen a flow differed by more than 5 % from its setting",
                    _MOVES, needed=_no_oxygen_in),
    ),
    default_limits=_LIMITS,
    source="ASA Monitor 79(10):42; Anaesthesia 2012; 67: 660-68, step 5",
    evaluate=evaluate,
)  # fmt: skip
