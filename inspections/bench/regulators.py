"""Cylinder regulators and the pipeline supply: static and flowing pressure, droop, creep, and who is used first."""

from dataclasses import replace

from .decisions import decide
from .declarations import Context, ResultSpec, TableSpec, Test
from .limits import COMMON_PRACTICE, FROM_MEMORY, SEEN
from .measuring import Bench, Measured, measured_rise, measured_slope, propagate_measured
from .pictures import limit_marks, points
from .quantities import Dimension
from .readings import Sheet
from .results import Curve, Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, reading
from .uncertainty import Estimate

Points = list[tuple[Measured, Measured]]


def evaluate_regulator(sheet: Sheet, context: Context) -> Evaluation:
    """Return all that the readings allow to say of one cylinder regulator. Raises BenchError (see Test)."""
    bench = Bench(REGULATOR, sheet, context)
    static = bench.value("static_pressure")
    flowing, creep = _points(bench, "flowing", "flow", "pressure"), _points(bench, "creep", "time", "pressure")
    results: list[Result] = []
    if static is not None:
        results.append(bench.result("static_pressure", static.estimate))
    results += _droop(bench, static, flowing)
    results += _lockup(bench, flowing)
    results += _creep(bench, creep)
    results += _supply_effect(bench)
    results += _pipeline_margins(bench, static)
    curves = (*_droop_curve(bench, static, flowing), *_creep_curve(bench, creep))
    return Evaluation(tuple(results), curves, bench.all_remarks(), tuple(bench.missing))


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


def _difference(first: Measured, second: Measured) -> Estimate:
    return propagate_measured(lambda a, b: a - b, (first, second))


def _droop(bench: Bench, static: Measured | None, flowing: Points) -> list[Result]:
    if not _spread_out(bench, flowing, "flowing", "flows"):
        return []
    slope = measured_slope(flowing)
    results = [bench.result("droop", replace(slope, value=-slope.value))]
    if static is not None:
        results.append(bench.result("droop_total", _difference(static, flowing[-1][1])))
    return results


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
    (begin, first), (end, last) = creep[0], creep[-1]
    minutes = (end.value - begin.value) / 60
    over = f"gauge; last minus first static pressure, over {minutes:.3g} min"
    return [
        bench.result("creep_rate", measured_slope(creep)),
        bench.result("creep_total", _difference(last, first), convention=over),
    ]


def _supply_effect(bench: Bench) -> list[Result]:
    pairs = _points(bench, "supply", "inlet", "outlet")
    if not _spread_out(bench, pairs, "supply", "inlet pressures"):
        return []
    return [bench.result("supply_effect", _difference(pairs[0][1], pairs[-1][1]))]


def _pipeline_margins(bench: Bench, static: Measured | None) -> list[Result]:
    found = []
    for reading_key, result_key in (
        ("pipeline_pressure", "pipeline_margin"),
        ("pipeline_flowing_pressure", "pipeline_margin_flowing"),
    ):
        pipeline = bench.value(reading_key)
        if pipeline is not None and static is not None:
            found.append(bench.result(result_key, _difference(pipeline, static)))
    return found


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


def evaluate_pipeline(sheet: Sheet, context: Context) -> Evaluation:
    """Return the pipeline pressure judged by a named rule, and how the other rules judge it."""
    bench = Bench(PIPELINE, sheet, context)
    pressure, flowing = bench.value("pressure"), bench.value("flowing_pressure")
    results = []
    if pressure is not None:
        results.append(_judged_pipeline(bench, pressure.estimate))
        if flowing is not None:
            results.append(bench.result("sag", _difference(pressure, flowing)))
    return Evaluation(tuple(results), (), bench.all_remarks(), tuple(bench.missing))


def _judged_pipeline(bench: Bench, pressure: Estimate) -> Result:
    result = bench.result("pressure", pressure)
    others = [
        f"{other.title}: {decide(pressure.value, pressure.std_uncertainty, other, dof=pressure.dof).decision.value}"
        for other in PIPELINE.default_limits
        if result.limit is None or other.rule != result.limit.rule
    ]
    bench.remarks.append(f"By other published rules: {'; '.join(others)}.")
    convention = f"{result.convention}; judged by {result.limit.title}" if result.limit else result.convention
    return replace(result, convention=convention)


_PIPELINE_LIMITS = (
    limit(
        "pressure", "fda92", "FDA 1992 proposal, 45 to 55 psi", (45, 55), "psi",
        "1992 proposed FDA anesthesia checklist, apsf.org", "1992", SEEN,
    ),
    limit(
        "pressure", "fda93", "FDA 1993, about 50 psi (read as 45 to 55)", (45, 55), "psi",
        "FDA Anesthesia Apparatus Checkout Recommendations, apsf.org", "1993", SEEN,
        note='It says "about 50 psi"; the range of the 1992 proposal is used for "about".',
    ),
    limit(
        "pressure", "ottawa", "Ottawa university checkout, 45 to 55 psi", (45, 55), "psi",
        "Ottawa university checkout, anesthesia.org wl97 acl1", "1997", SEEN,
    ),
    limit(
        "pressure", "asa08", "ASA 2008 item 6, at least 50 psi", (50, None), "psi",
        "ASA pre-anaesthesia checkout recommendations, item 6", "2008", SEEN,
    ),
    limit(
        "pressure", "aagbi12", "AAGBI 2012, 400 to 500 kPa", (400, 500), "kPa",
        "Checking Anaesthetic Equipment, Anaesthesia 2012; 67: 660-68", "2012", FROM_MEMORY,
    ),
    limit(
        "pressure", "nfpa99", "NFPA 99 alarm band, 40 to 60 psi", (40, 60), "psi",
        "NFPA 99, alarm at 20 % either side of 50 psi", "NFPA 99", FROM_MEMORY,
    ),
    limit(
        "pressure", "iso7396", "ISO 7396-1, 400 to 500 kPa", (400, 500), "kPa", "ISO 7396-1", "ISO 7396-1", FROM_MEMORY,
    ),
)  # fmt: skip

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
        "creep_total", "creep-5", "Rises by no more than 5 psi", (None, 5), "psi", "common practice, no source", "-",
        COMMON_PRACTICE, note="5 psi is the difference between a regulator at 45 psi and a pipeline at 50 psi.",
    ),
    *(
        limit(
            key, "pipeline-first", "Pipeline pressure above regulator pressure", (0, None), "psi",
            f"set below pipeline pressure so that the pipeline is used first: {_BOOK}", "6th ed.", FROM_MEMORY,
        )
        for key in ("pipeline_margin", "pipeline_margin_flowing")
    ),
)  # fmt: skip


def _pressure(key: str, label: str, **more):
    return reading(key, label, Dimension.PRESSURE, **more)


REGULATOR = Test(
    code="regulator",
    family="regulators",
    title="Cylinder regulator",
    purpose="Measure outlet pressure, droop and creep, and the pressure margin that keeps the pipeline in use first.",
    cautions=(
        NEVER_ON_A_PATIENT,
        "Inlet pressure up to 2,200 psi (15 MPa): open cylinder valves slowly, stand aside, and use no oil or grease.",
        "A result applies only at the inlet pressure of the test; record the cylinder pressure.",
    ),
    readings=(
        _pressure("static_pressure", "Static outlet pressure", help="no flow, cylinder open, pipeline disconnected"),
        _pressure("inlet_pressure", "Cylinder pressure", required=False),
        _pressure("lockup_pressure", "Outlet pressure after the flow is stopped", required=False,
                  help="about ten seconds after closing the flow control"),
        _pressure("pipeline_pressure", "Pipeline pressure, no flow", required=False),
        _pressure("pipeline_flowing_pressure", "Pipeline pressure at the highest flow used", required=False),
    ),
    tables=(
        TableSpec("flowing", "Flowing outlet pressure",
                  (reading("flow", "Flow", Dimension.FLOW), _pressure("pressure", "Outlet pressure")), 2, 5,
                  "from a small flow to the highest flow used; rows in any order"),
        TableSpec("creep", "Outlet pressure with no flow over time",
                  (reading("time", "Time", Dimension.TIME, first="min"), _pressure("pressure", "Outlet pressure")),
                  0, 6, "cylinder open, all flow controls closed; rows in any order"),
        TableSpec("supply", "Outlet pressure at two cylinder pressures",
                  (_pressure("inlet", "Cylinder pressure"), _pressure("outlet", "Outlet pressure")), 0, 2,
                  "same flow for both"),
    ),
    choices=(),
    rated=(),
    results=(
        ResultSpec("static_pressure", "Static outlet pressure", Dimension.PRESSURE, "psi", "gauge; no flow"),
        ResultSpec("droop", "Droop", Dimension.PRESSURE_PER_FLOW, "psi per L/min",
                    "fall of outlet pressure per unit of flow, slope of the least-squares line without the static "
                    "point"),
        ResultSpec("droop_total", "Pressure fall at the highest flow", Dimension.PRESSURE, "psi",
                    "static pressure minus outlet pressure at the highest flow read"),
        ResultSpec("lockup_rise", "Lock-up rise", Dimension.PRESSURE, "psi",
                    "pressure after the flow is stopped minus the flowing line extrapolated to zero flow"),
        ResultSpec("creep_rate", "Creep", Dimension.PRESSURE_PER_TIME, "Pa/min",
                    "slope of the least-squares line of static pressure over time; positive: pressure rises"),
        ResultSpec("creep_total", "Creep over the test period", Dimension.PRESSURE, "psi",
                    "gauge; last minus first static pressure"),
        ResultSpec("supply_effect", "Inlet pressure effect", Dimension.PRESSURE, "psi",
                    "outlet pressure at the lowest cylinder pressure minus outlet pressure at the highest"),
        ResultSpec("pipeline_margin", "Pipeline margin over regulator, no flow", Dimension.PRESSURE, "psi",
                    "pipeline pressure minus static regulator outlet pressure; positive: the pipeline is used first"),
        ResultSpec("pipeline_margin_flowing", "Pipeline margin over regulator, under flow", Dimension.PRESSURE, "psi",
                    "pipeline pressure under flow minus static regulator outlet pressure; below zero the cylinder "
                    "also supplies gas"),
    ),
    default_limits=_REGULATOR_LIMITS,
    source=f"{_BOOK}; trade values: up to 2,000 psi in, 45 psi out, pipeline 50 psi",
    evaluate=evaluate_regulator,
)  # fmt: skip

PIPELINE = Test(
    code="pipeline-supply",
    family="regulators",
    title="Pipeline supply pressure",
    purpose="Compare the pipeline pressure at the machine with a named rule; published rules differ.",
    cautions=(NEVER_ON_A_PATIENT, "Pressure does not identify the gas: confirm the gas with an analyser."),
    readings=(
        _pressure("pressure", "Pipeline pressure, no flow"),
        _pressure("flowing_pressure", "Pipeline pressure under flow", required=False),
    ),
    tables=(),
    choices=(),
    rated=(),
    results=(
        ResultSpec("pressure", "Pipeline pressure", Dimension.PRESSURE, "psi", "gauge; no flow"),
        ResultSpec("sag", "Pressure drop under flow", Dimension.PRESSURE, "psi",
                    "pressure without flow minus pressure under flow"),
    ),
    default_limits=_PIPELINE_LIMITS,
    source="see the rule of each limit",
    evaluate=evaluate_pipeline,
)  # fmt: skip
