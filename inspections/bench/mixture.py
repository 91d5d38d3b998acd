"""Oxygen mixture: the oxygen fraction over a grid of settings, and what the ratio protection does."""

from dataclasses import replace

from .chosen_units import chosen_unit
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .judging import judged_result
from .limits import COMMON_PRACTICE, LOCAL, SEEN, Limit
from .measuring import Bench, Row
from .mixture_challenges import ASKED, MOVES, OTHER_OFF
from .mixture_flows import (
    grid_rows,
    is_cut,
    is_raised,
    mixed_rows,
    telling_rows,
)
from .pictures import limit_marks
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Curve, Evaluation, Result, Series
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading
from .uncertainty import Estimate

_AIR_FLOOR = "air-19"


def evaluate(sheet: Sheet, context: Context) -> Evaluation:
    """Return the lowest oxygen fraction, the flow left with oxygen off, and the kind of protection."""
    bench = Bench(TEST, sheet, context)
    rows = grid_rows(bench)
    mixed = mixed_rows(bench, rows)
    results: list[Result] = []
    if mixed:
        number, row, lowest = min(mixed, key=lambda one: one[2].value)
        results.append(_lowest(bench, number, row, lowest))
        _warn_of_weak_oxygen(bench, row, lowest)
    results += _oxygen_off(bench, rows)
    results += _protection(bench, rows)
    judge = results[0].limit if mixed else None
    curves = (_curve(bench, mixed, judge),) if mixed else ()
    return bench.finish(results, curves)


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


def _warn_of_weak_oxygen(bench: Bench, row: Row, lowest: Estimate) -> None:
    """Remark what a fraction that was calculated from flows leaves out: the oxygen supplied is not all oxygen."""
    oxygen = bench.context.oxygen
    if oxygen.is_weak and "oxygen_fraction" not in row:
        bench.remarks.append(
            f"The site is supplied with {oxygen.words}. Calculated from flows, {lowest.value:.1%} of it is delivered "
            f"as {lowest.value * oxygen.fraction:.1%} oxygen: measure the lowest fraction with an analyser, too."
        )


def _air_limit() -> Limit:
    return limit(
        "lowest_fraction", _AIR_FLOOR, "With air: at least 19 % oxygen", (19, None), "%",
        "ASTM F1850, quoted in US anaesthesia textbook, 6th ed., p. 231", "F1850-00", SEEN,
        note="Air alone holds 21 % oxygen and is no hypoxic mixture. The 25 % of ratio devices is for gases without "
             "oxygen.",
    )  # fmt: skip


def _no_oxygen_in(bench: Bench) -> bool:
    return bench.choice("other_gas") != "air"


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
    asked = [row for _, row in telling_rows(rows)]
    if not asked:
        if rows:
            bench.remarks.append("No row set less than 25 % oxygen, so the ratio protection was not tested.")
        return []
    raised, cut = any(map(is_raised, asked)), any(map(is_cut, asked))
    acts = all(is_raised(row) or is_cut(row) for row in asked)
    kind = _kind(raised, cut, None if moves is None else moves.value == 1)
    return [bench.result("ratio_protection", Estimate(float(acts)), remark=kind, unjudged=_with_air(bench))]


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
    shown = chosen_unit("%", bench.context.units) or "%"
    groups: dict[float, list[tuple[float, float]]] = {}
    for _, row, fraction in mixed:
        point = (from_si(row["oxygen_set"].value, x_unit), from_si(fraction.value, shown))
        groups.setdefault(row["other_set"].value, []).append(point)
    series = tuple(
        Series(f"other gas set {from_si(other, y_unit):.3g} {y_unit}", tuple(sorted(found)))
        for other, found in sorted(groups.items())
    )
    marks = tuple(limit_marks("y", judge, shown))
    title = "Oxygen fraction over the settings"
    return Curve("grid", title, "oxygen flow set", x_unit, "oxygen fraction", shown, series, marks)


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
                gas="other",
                help="or enter a row with oxygen set to 0; a machine with a basal oxygen flow may deliver some",
                judges=("oxygen_off_flow",)),
        reading("oxygen_off_set", "Other gas set while oxygen was off", Dimension.FLOW, required=False, stated=True,
                asked=True, help="1 L/min or more, so that there is something to stop", judges=("oxygen_off_flow",)),
        observation("control_moves", "Did one flow control turn the other?", required=False,
                    help="yes if turning one flow control also turned the other",
                    unjudged="It says how the safety feature works, not whether it does."),
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
                        help="after the ratio device has acted, with an instrument", gas="other",
                        judges=(*_MIXED, "oxygen_off_flow")),
                reading("oxygen_fraction", "Oxygen fraction measured", Dimension.FRACTION, required=False,
                        help="by an analyser at the outlet; if left empty, it is calculated from the flows",
                        judges=("lowest_fraction",)),
            ),
            1, 6, "set too little oxygen in most rows; rows in any order", sets=("oxygen_set", "other_set"),
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
                    "flows", ASKED, needed=True),
        ResultSpec("oxygen_off_flow", "Other gas with oxygen off", Dimension.FLOW, "mL/min", "largest flow read",
                    OTHER_OFF, needed=True),
        ResultSpec("ratio_protection", "Ratio protection acts", Dimension.OBSERVATION, "yes/no",
                    "yes if at each setting of too little oxygen a flow differed by more than 5 % from its setting",
                    MOVES, needed=_no_oxygen_in),
    ),
    default_limits=_LIMITS,
    source="ASA Monitor 79(10):42; Anaesthesia 2012; 67: 660-68, step 5",
    evaluate=evaluate,
    asks=("oxygen",),
)  # fmt: skip
