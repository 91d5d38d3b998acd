"""Cylinder regulators: static and flowing pressure, droop, creep, and which supply is used first."""

from dataclasses import replace

from .challenges import Challenge, NoChallenge, Unmet
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .impossible import NeverAbove
from .limits import COMMON_PRACTICE, FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .pictures import limit_marks, points
from .propagation import Measured, difference, measured_rise, measured_slope
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Curve, Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, reading, with_option

Points = list[tuple[Measured, Measured]]

ENOUGH_FLOW = to_si(10, "L/min")  # common practice, no source
CREEP_TIME = to_si(5, "min")  # common practice, no source
LEAST_INLET = 2.0  # cylinder pressure over the outlet pressure, so that the regulator regulates
SET_CLOSELY = 0.99  # of a flow or a time that is set by hand


def evaluate_regulator(sheet: Sheet, context: Context) -> Evaluation:
    """Return all that the readings allow to say of one cylinder regulator. Raises BenchError (see Test)."""
    bench = Bench(REGULATOR, sheet, context)
    static = bench.value("static_pressure")
    flowing, creep = _points(bench, "flowing", "flow", "pressure"), _points(bench, "creep", "time", "pressure")
    results: list[Result] = []
    if static is not None:
        results.append(bench.result("static_pressure", static.estimate))
        if bench.value("inlet_pressure") is None:
            bench.assume("the cylinder was open and well above the outlet pressure; its pressure was not recorded.")
    results += _droop(bench, static, flowing)
    results += _lockup(bench, flowing)
    results += _creep(bench, creep)
    results += _supply_effect(bench)
    results += _pipeline_margins(bench, static)
    curves = (*_droop_curve(bench, static, flowing), *_creep_curve(bench, creep))
    return bench.finish(results, curves)


def _points(bench: Bench, table: str, x: str, y: str) -> Points:
    """Return a table as (x, y) sorted by x: the order of its rows does not matter."""
    pairs = [(row[x], row[y]) for _, row in bench.rows(table)]
    return sorted(pairs, key=lambda pair: (pair[0].value, pair[1].value))


def _spread_out(bench: Bench, pairs: Points, table: str, what: str) -> bool:
    if pairs and len({x.value for x, _ in pairs}) < 2:
        spec = next(spec for spec in bench.test.tables if spec.key == table)
        bench.missing.append(f"{spec.label}: readings at 2 or more different {what}")
        return False
    return bool(pairs)


def _droop(bench: Bench, static: Measured | None, flowing: Points) -> list[Result]:
    if not _spread_out(bench, flowing, "flowing", "flows"):
        return []
    slope = measured_slope(flowing)
    results = [bench.result("droop", replace(slope, value=-slope.value)), _under_flow(bench, flowing)]
    if static is not None:
        results.append(bench.result("droop_total", difference(static, flowing[-1][1])))
    return results


def _under_flow(bench: Bench, flowing: Points) -> Result:
    """Return the outlet pressure under flow that lies nearest to an end of its limit, or farthest outside."""
    judge = bench.limit("flowing_pressure")
    flow, pressure = min(flowing, key=lambda pair: _inside(pair[1].value, judge))
    at = f"Read at {from_si(flow.value, 'L/min'):.3g} L/min."
    return bench.result("flowing_pressure", pressure.estimate, remark=at)


def _inside(value: float, judge: Limit | None) -> float:
    """Return how far a value lies inside a limit; without one the lowest value counts."""
    if judge is None:
        return value
    ends = [] if judge.lower_si is None else [value - judge.lower_si]
    return min([*ends, *([] if judge.upper_si is None else [judge.upper_si - value])])


def _lockup(bench: Bench, flowing: Points) -> list[Result]:
    lockup = bench.value("lockup_pressure")
    if lockup is None:
        return []
    if len({x.value for x, _ in flowing}) < 2:
        bench.missing.append("Flowing pressures at 2 or more different flows, for the lock-up rise")
        return []
    return [bench.result("lockup_rise", measured_rise(lockup, flowing))]


def _creep(bench: Bench, creep: Points) -> list[Result]:
    if not _spread_out(bench, creep, "creep", "times"):
        return []
    (begin, first), (end, _) = creep[0], creep[-1]
    farthest = max((pressure for _, pressure in creep), key=lambda one: abs(one.value - first.value))
    minutes = (end.value - begin.value) / 60
    over = f"gauge; largest change from the first static pressure, over {minutes:.3g} min"
    return [
        bench.result("creep_rate", measured_slope(creep)),
        bench.result("creep_total", difference(farthest, first), convention=over),
    ]


def _supply_effect(bench: Bench) -> list[Result]:
    pairs = _points(bench, "supply", "inlet", "outlet")
    if not _spread_out(bench, pairs, "supply", "inlet pressures"):
        return []
    return [bench.result("supply_effect", difference(pairs[0][1], pairs[-1][1]))]


def _pipeline_margins(bench: Bench, static: Measured | None) -> list[Result]:
    found = []
    if bench.choice("pipeline") == NO_PIPELINE:
        return found
    for reading_key, result_key in (
        ("pipeline_pressure", "pipeline_margin"),
        ("pipeline_flowing_pressure", "pipeline_margin_flowing"),
    ):
        pipeline = bench.value(reading_key)
        if pipeline is not None and static is not None:
            found.append(bench.result(result_key, difference(pipeline, static)))
    return found


NO_PIPELINE = "none"


def _has_pipeline(bench: Bench) -> bool:
    return bench.choice("pipeline") != NO_PIPELINE


def _cylinder_open(bench: Bench) -> Unmet | None:
    inlet, static = bench.value("inlet_pressure"), bench.value("static_pressure")
    if inlet is None or static is None or inlet.value >= LEAST_INLET * static.value:
        return None
    return Unmet(
        f"The cylinder pressure of {from_si(inlet.value, 'psi'):.3g} psi is less than twice the outlet pressure, so "
        "the regulator had nothing to regulate: use a fuller cylinder."
    )


def _flowed_enough(bench: Bench) -> Unmet | None:
    flows = [row["flow"].value for _, row in bench.rows("flowing")]
    if not flows or max(flows) >= ENOUGH_FLOW * SET_CLOSELY:
        return _cylinder_open(bench)
    shown = from_si(max(flows), "L/min")
    return Unmet(f"The highest flow was {shown:.3g} L/min: read the pressure at 10 L/min or more.")


def _watched(bench: Bench) -> Unmet | None:
    times = [row["time"].value for _, row in bench.rows("creep")]
    if not times or max(times) - min(times) >= CREEP_TIME * SET_CLOSELY:
        return _cylinder_open(bench)
    return Unmet(f"The pressure was watched for {max(times) - min(times):.3g} s: watch it for 5 min.")


def _flow_was_stopped(bench: Bench) -> Unmet | None:
    return _flowed_enough(bench)


def _droop_curve(bench: Bench, static: Measured | None, flowing: Points) -> tuple[Curve, ...]:
    if not flowing:
        return ()
    x_unit, y_unit = bench.unit("flowing", "flow"), bench.unit("flowing", "pressure")
    series = [points("flowing", flowing, x_unit, y_unit)]
    if static is not None:
        series.append(points("static", [(Measured(0.0), static)], x_unit, y_unit, "points"))
    marks = tuple(limit_marks("y", bench.limit("static_pressure"), y_unit))
    title = "Outlet pressure against flow"
    return (Curve("droop", title, "flow", x_unit, "outlet pressure", y_unit, tuple(series), marks),)


def _creep_curve(bench: Bench, creep: Points) -> tuple[Curve, ...]:
    if not creep:
        return ()
    x_unit, y_unit = bench.unit("creep", "time"), bench.unit("creep", "pressure")
    series = (points("no flow", creep, x_unit, y_unit),)
    return (Curve("creep", "Outlet pressure with no flow", "time", x_unit, "outlet pressure", y_unit, series),)


_BOOK = "US anaesthesia textbook, 6th ed., delivery systems"

_REGULATOR_LIMITS = (
    limit(
        "static_pressure", "about-45", "About 45 psi: 40 to 50 psi", (40, 50), "psi",
        f"45 psi, set below pipeline pressure: {_BOOK}; the tolerance is common practice", "6th ed.", FROM_MEMORY,
        note="The manufacturer's set pressure comes first.",
    ),
    limit(
        "static_pressure", "intermediate-37-55", "Intermediate-pressure section, 37 to 55 psi", (37, 55), "psi",
        'aneskey.com "Anesthesia Machine"', "-", SEEN,
    ),
    limit(
        "flowing_pressure", "intermediate-37-55", "Intermediate-pressure section, 37 to 55 psi", (37, 55), "psi",
        'aneskey.com "Anesthesia Machine"', "-", SEEN,
    ),
    limit(
        "creep_total", "creep-5", "Changes by no more than 5 psi", (-5, 5), "psi", "common practice, no source", "-",
        COMMON_PRACTICE, note="5 psi is the difference between a regulator at 45 psi and a pipeline at 50 psi.",
    ),
    limit(
        "lockup_rise", "lockup-5", "Rises by no more than 5 psi", (None, 5), "psi", "common practice, no source", "-",
        COMMON_PRACTICE, note="5 psi is the difference between a regulator at 45 psi and a pipeline at 50 psi.",
    ),
    *(
        limit(
            key, "pipeline-first", "Pipeline pressure above regulator pressure", (0, None), "psi",
            f"set below pipeline pressure so that the pipeline is used first: {_BOOK}", "6th ed.", FROM_MEMORY,
            note="Equal pressures are no pass: the margin must exceed its uncertainty.", strict=True, floor=0.977,
        )
        for key in ("pipeline_margin", "pipeline_margin_flowing")
    ),
)  # fmt: skip


def _pressure(key: str, label: str, **more):
    return reading(key, label, Dimension.PRESSURE, **more)


_REPORTED = NoChallenge("it is reported only")
_NO_SUPPLY_LIMIT = "No limit of the inlet pressure effect is published that could be looked up; set one to judge it."
_DROOP = "The pressure under flow is judged, which the droop brings about."

_LESS_UNDER_FLOW = "A regulator gives less pressure under flow than without."
_PAIRS = (
    NeverAbove(("flowing", "pressure"), ("static_pressure", ""), _LESS_UNDER_FLOW),
    NeverAbove(("flowing", "pressure"), ("lockup_pressure", ""), _LESS_UNDER_FLOW),
    NeverAbove(
        ("static_pressure", ""), ("inlet_pressure", ""), "A regulator only lowers the pressure of its cylinder."
    ),
    NeverAbove(("supply", "outlet"), ("supply", "inlet"), "A regulator only lowers the pressure of its cylinder."),
    NeverAbove(
        ("pipeline_flowing_pressure", ""), ("pipeline_pressure", ""), "A pipeline gives less pressure under flow."
    ),
)

REGULATOR = Test(
    code="regulator",
    family="regulators",
    title="Cylinder regulator",
    purpose="Measure outlet pressure, droop and creep{pipeline|, and the pressure margin that keeps the "
            "pipeline in use first}.",
    cautions=(
        NEVER_ON_A_PATIENT,
        "Inlet pressure up to 2,200 psi (15 MPa): open cylinder valves slowly, stand aside, and use no oil or grease.",
        "A result applies only at the inlet pressure of the test; record the cylinder pressure.",
    ),
    readings=(
        _pressure("static_pressure", "Static outlet pressure", 
                  help="no flow, cylinder open{pipeline|, pipeline disconnected}",
                  judges=("static_pressure", "pipeline_margin", "pipeline_margin_flowing")),
        _pressure("inlet_pressure", "Cylinder pressure", required=False,
                  judges=("static_pressure", "flowing_pressure", "creep_total", "lockup_rise")),
        _pressure("lockup_pressure", "Outlet pressure after the flow is stopped", required=False,
                  help="about ten seconds after closing the flow control", judges=("lockup_rise",)),
        _pressure("pipeline_pressure", "Pipeline pressure, no flow", required=False, judges=("pipeline_margin",),
                  asked=True, wanted=with_option("pipeline", "fitted")),
        _pressure("pipeline_flowing_pressure", "Pipeline pressure at the highest flow used", required=False,
                  judges=("pipeline_margin_flowing",), asked=True, wanted=with_option("pipeline", "fitted")),
    ),
    tables=(
        TableSpec("flowing", "Flowing outlet pressure",
                  (reading("flow", "Flow", Dimension.FLOW, judges=("flowing_pressure", "lockup_rise")),
                   _pressure("pressure", "Outlet pressure", judges=("flowing_pressure", "lockup_rise"))), 2, 5,
                  "from a small flow to 10 L/min or more; rows in any order", sets=("flow",)),
        TableSpec("creep", "Outlet pressure with no flow over time",
                  (reading("time", "Time", Dimension.TIME, first="min", judges=("creep_total",)),
                   _pressure("pressure", "Outlet pressure", judges=("creep_total",))),
                  0, 6, "cylinder open, all flow controls closed, for five minutes; rows in any order",
                  is_expected=True, sets=("time",)),
        TableSpec("supply", "Outlet pressure at two cylinder pressures",
                  (_pressure("inlet", "Cylinder pressure", unjudged=_NO_SUPPLY_LIMIT),
                   _pressure("outlet", "Outlet pressure", unjudged=_NO_SUPPLY_LIMIT)), 0, 2,
                  "same flow for both", sets=("inlet",)),
    ),
    choices=(
        ChoiceSpec("pipeline", "Pipeline of the same gas",
                   (("fitted", "the gas also comes from a pipeline"), (NO_PIPELINE, "from cylinders only")), "fitted",
                   option_needs={"fitted": ("pipeline",)}),
    ),
    rated=(),
    results=(
        ResultSpec("static_pressure", "Static outlet pressure", Dimension.PRESSURE, "psi", "gauge; no flow",
                    Challenge("cylinder open, well above the outlet pressure", _cylinder_open), needed=True),
        ResultSpec("flowing_pressure", "Outlet pressure under flow", Dimension.PRESSURE, "psi",
                    "gauge; the reading nearest to its limit, of all flows read",
                    Challenge("10 L/min or more drawn from a cylinder with enough pressure", _flowed_enough),
                    needed=True),
        ResultSpec("droop", "Droop", Dimension.PRESSURE_PER_FLOW, "psi per L/min",
                    "fall of outlet pressure per unit of flow, slope of the least-squares line without the static "
                    "point", _REPORTED, unjudged=_DROOP),
        ResultSpec("droop_total", "Pressure fall at the highest flow", Dimension.PRESSURE, "psi",
                    "static pressure minus outlet pressure at the highest flow read", _REPORTED, unjudged=_DROOP),
        ResultSpec("lockup_rise", "Lock-up rise", Dimension.PRESSURE, "psi",
                    "pressure after the flow is stopped minus the flowing line extrapolated to zero flow",
                    Challenge("a flow of 10 L/min or more stopped", _flow_was_stopped)),
        ResultSpec("creep_rate", "Creep", Dimension.PRESSURE_PER_TIME, "Pa/min",
                    "slope of the least-squares line of static pressure over time; positive: pressure rises",
                    _REPORTED, unjudged="The change over the whole time is judged."),
        ResultSpec("creep_total", "Creep over the test period", Dimension.PRESSURE, "psi",
                    "gauge; largest change from the first static pressure",
                    Challenge("watched for five minutes with no flow, cylinder open", _watched), needed=True),
        ResultSpec("supply_effect", "Inlet pressure effect", Dimension.PRESSURE, "psi",
                    "outlet pressure at the lowest cylinder pressure minus outlet pressure at the highest",
                    _REPORTED, unjudged=_NO_SUPPLY_LIMIT),
        ResultSpec("pipeline_margin", "Pipeline margin over regulator, no flow", Dimension.PRESSURE, "psi",
                    "pipeline pressure minus static regulator outlet pressure; positive: the pipeline is used first",
                    NoChallenge("both pressures stand against each other without flow; under flow is judged apart"),
                    needed=_has_pipeline, needs=("pipeline",)),
        ResultSpec("pipeline_margin_flowing", "Pipeline margin over regulator, under flow", Dimension.PRESSURE, "psi",
                    "pipeline pressure under flow minus static regulator outlet pressure; below zero the cylinder "
                    "also supplies gas",
                    Challenge("the pipeline delivering 10 L/min or more", _flowed_enough), needed=_has_pipeline,
                    needs=("pipeline",)),
    ),
    default_limits=_REGULATOR_LIMITS,
    source=f"{_BOOK}; trade values: up to 2,000 psi in, 45 psi out, pipeline 50 psi",
    evaluate=evaluate_regulator,
    pairs=_PAIRS,
)  # fmt: skip
