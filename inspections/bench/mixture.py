"""Oxygen mixture: the oxygen fraction over a grid of settings, and what the ratio protection does."""

from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .limits import COMMON_PRACTICE, SEEN
from .measuring import Bench, Measured, Row, propagate_measured
from .pictures import limit_marks
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Curve, Evaluation, Result, Series
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading
from .uncertainty import Estimate

OXYGEN_IN = {"nitrous oxide": 0.0, "air": 0.21, "other": 0.0}
"""Oxygen fraction of the other gas. Air: 0.209 rounded to the 0.21 of clinical use (common practice, no source)."""

NOMINAL_FRACTION = 0.25  # 3:1, ASA Monitor 79(10):42
_MOVED = 0.05  # a flow that differs from its setting by more than 5 % was changed by the protection


def evaluate(sheet: Sheet, context: Context) -> Evaluation:
    """Return the lowest oxygen fraction, the flow left with oxygen off, and the kind of protection."""
    bench = Bench(TEST, sheet, context)
    in_other = OXYGEN_IN[bench.choice("other_gas")]
    rows = bench.rows("grid", nominal=("oxygen_set", "other_set"))
    mixed = [(number, row, fraction) for number, row in rows if (fraction := _fraction(bench, number, row, in_other))]
    results: list[Result] = []
    if mixed:
        number, row, lowest = min(mixed, key=lambda one: one[2].value)
        results.append(bench.result("lowest_fraction", lowest, remark=_where(number, row)))
    results += _oxygen_off(bench, rows)
    results += _protection(bench, rows)
    curves = (_curve(bench, mixed),) if mixed else ()
    return Evaluation(tuple(results), curves, bench.all_remarks(), tuple(bench.missing))


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
    if analysed is None and "oxygen_flow" not in row and oxygen.scale is None:
        bench.note_unnamed("Oxygen flow set")
    if oxygen.value + other.value == 0:
        if analysed is None:
            bench.remarks.append(f"Row {number}: no gas flows, so there is no mixture to test.")
            return None
        return analysed.estimate
    computed = propagate_measured(lambda o, x: (o + in_other * x) / (o + x), (oxygen, other))
    if analysed is None:
        return Estimate(computed_fraction(oxygen.value, other.value, in_other), computed.std_uncertainty)
    _compare(bench, number, analysed.estimate, computed)
    return analysed.estimate


def _compare(bench: Bench, number: int, analysed: Estimate, computed: Estimate) -> None:
    """Remark on an analyser that contradicts the flows by more than both can explain (at least 3 % oxygen)."""
    apart = abs(analysed.value - computed.value)
    if apart > max(0.03, 2 * (analysed.std_uncertainty**2 + computed.std_uncertainty**2) ** 0.5):
        bench.remarks.append(
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
    if stated is not None:
        off.append(stated)
    if not off:
        return []
    worst = max(off, key=lambda flow: flow.value)
    return [bench.result("oxygen_off_flow", worst.estimate)]


def _protection(bench: Bench, rows: list[tuple[int, Row]]) -> list[Result]:
    """Return whether anything held the ratio (1 or 0), with its kind in the remark."""
    moves = bench.value("control_moves")
    asked = [row for _, row in rows if _asks_too_much(row)]
    if not asked:
        if rows:
            bench.remarks.append("No row set less than 25 % oxygen, so the ratio protection was not tested.")
        return []
    raised = any(_oxygen_flow(row).value > row["oxygen_set"].value * (1 + _MOVED) for row in asked)
    cut = any(row["other_flow"].value < row["other_set"].value * (1 - _MOVED) for row in asked)
    kind = _kind(raised, cut, moves is not None and moves.value == 1)
    return [bench.result("ratio_protection", Estimate(float(raised or cut)), remark=kind)]


def _asks_too_much(row: Row) -> bool:
    oxygen, other = row["oxygen_set"].value, row["other_set"].value
    return other > 0 and oxygen / (oxygen + other) < NOMINAL_FRACTION * (1 - 1e-9)


def _kind(raised: bool, cut: bool, moves: bool) -> str:
    if raised:
        return "linked controls: the oxygen flow rose with the other gas"
    if cut and moves:
        return "linked controls: the oxygen control turned the other gas down"
    if cut:
        return "flow limiting: the flow of the other gas was held back, its control did not turn"
    return "no ratio protection: both flows stayed as set with less than 25 % oxygen"


def _curve(bench: Bench, mixed: list[tuple[int, Row, Estimate]]) -> Curve:
    x_unit, y_unit = bench.unit("grid", "oxygen_set"), bench.unit("grid", "other_set")
    groups: dict[float, list[tuple[float, float]]] = {}
    for _, row, fraction in mixed:
        point = (from_si(row["oxygen_set"].value, x_unit), from_si(fraction.value, "%"))
        groups.setdefault(row["other_set"].value, []).append(point)
    series = tuple(
        Series(f"other gas set {from_si(other, y_unit):.3g} {y_unit}", tuple(sorted(found)))
        for other, found in sorted(groups.items())
    )
    marks = tuple(limit_marks("y", bench.limit("lowest_fraction"), "%"))
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
)  # fmt: skip

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
                help="or enter a row with oxygen set to 0; a machine with a basal oxygen flow may deliver some"),
        observation("control_moves", "Did one flow control turn the other?", required=False,
                    help="yes if turning one flow control also turned the other"),
    ),
    tables=(
        TableSpec(
            "grid", "Settings and flows",
            (
                reading("oxygen_set", "Oxygen flow set", Dimension.FLOW, stated=True,
                        help="before the ratio device acts"),
                reading("other_set", "Other gas flow set", Dimension.FLOW, stated=True,
                        help="as set on the control"),
                reading("oxygen_flow", "Oxygen flow measured", Dimension.FLOW, required=False,
                        help="after the ratio device has acted; leave empty if equal to the set flow"),
                reading("other_flow", "Other gas flow measured", Dimension.FLOW,
                        help="after the ratio device has acted"),
                reading("oxygen_fraction", "Oxygen fraction measured", Dimension.FRACTION, required=False,
                        help="by an analyser at the outlet; if left empty, it is calculated from the flows"),
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
                    "flows"),
        ResultSpec("oxygen_off_flow", "Other gas with oxygen off", Dimension.FLOW, "mL/min", "largest flow read"),
        ResultSpec("ratio_protection", "Ratio protection acts", Dimension.OBSERVATION, "yes/no",
                    "yes if a flow differed by more than 5 % from its setting when less than 25 % oxygen was set"),
    ),
    default_limits=_LIMITS,
    source="ASA Monitor 79(10):42; Anaesthesia 2012; 67: 660-68, step 5",
    evaluate=evaluate,
)  # fmt: skip
