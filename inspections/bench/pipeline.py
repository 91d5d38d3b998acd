"""The pipeline supply at the machine: its pressure without flow by a named rule, and what is left of it under flow."""

from dataclasses import replace

from .challenges import Challenge, NoChallenge, Reason, Unmet
from .decisions import decide
from .declarations import Context, ResultSpec, Test
from .impossible import NeverAbove
from .limits import FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .propagation import difference
from .quantities import Dimension, from_si
from .readings import Sheet
from .regulators import ENOUGH_FLOW, SET_CLOSELY
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, reading
from .uncertainty import Estimate, excess_of


def evaluate_pipeline(sheet: Sheet, context: Context) -> Evaluation:
    """Return the pipeline pressure judged by a named rule, and how the other rules judge it."""
    bench = Bench(PIPELINE, sheet, context)
    pressure, flowing = bench.value("pressure"), bench.value("flowing_pressure")
    bench.value("flow", nominal=True)
    results = []
    if pressure is not None:
        results.append(_judged_pipeline(bench, pressure.estimate))
        if flowing is not None:
            results.append(bench.result("flowing_pressure", flowing.estimate))
            results.append(bench.result("sag", difference(pressure, flowing), limit=sag_limit(pressure.value)))
    return bench.finish(results)


MOST_SAG = 0.2  # of the pressure without flow: the alarm band of area alarms, 20 % either side


def sag_limit(pressure: float) -> Limit:
    """Return the limit of the fall of a pipeline pressure under flow, Pa gauge."""
    return limit(
        "sag", "alarm-band-20", "Falls by no more than 20 %", (None, MOST_SAG * from_si(pressure, "psi")), "psi",
        "alarm band of 20 % either side of the pipeline pressure: NFPA 99, ISO 7396-1", "-", FROM_MEMORY,
    )  # fmt: skip


def _pipeline_flowed(bench: Bench) -> Unmet | None:
    flow = bench.value("flow")
    if flow is None:
        return Unmet("The flow at which the pressure was read is not stated.", Reason.NOT_KNOWN)
    if flow.value >= ENOUGH_FLOW * SET_CLOSELY:
        return None
    return Unmet(f"The flow was {from_si(flow.value, 'L/min'):.3g} L/min: read the pressure at 10 L/min or more.")


PIPELINE_FLOWING = Challenge("the pipeline delivering 10 L/min or more", _pipeline_flowed)


def _judged_pipeline(bench: Bench, pressure: Estimate) -> Result:
    result = bench.result("pressure", pressure)
    others = [
        f"{other.title}: {_plainly(pressure, other)}"
        for other in PIPELINE.default_limits
        if other.key == "pressure" and (result.limit is None or other.rule != result.limit.rule)
    ]
    bench.remarks.append(f"By other published rules: {'; '.join(others)}.")
    convention = f"{result.convention}; judged by {result.limit.title}" if result.limit else result.convention
    return replace(result, convention=convention)


def _plainly(pressure: Estimate, other: Limit) -> str:
    found = decide(
        pressure.value, pressure.std_uncertainty, other, dof=pressure.dof, excess=excess_of(pressure)
    )  # fmt: skip
    return found.decision.value


_PIPELINE_LIMITS = (
    limit(
        "flowing_pressure", "nfpa99", "Above the alarm at 40 psi, below the one at 60 psi", (40, 60), "psi",
        "NFPA 99, alarm at 20 % either side of 50 psi", "NFPA 99", FROM_MEMORY,
    ),
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

PIPELINE = Test(
    code="pipeline-supply",
    family="regulators",
    title="Pipeline supply pressure",
    purpose="Compare the pipeline pressure at the machine with a named rule; published rules differ.",
    cautions=(NEVER_ON_A_PATIENT, "Pressure does not identify the gas: confirm the gas with an analyser."),
    readings=(
        reading("pressure", "Pipeline pressure, no flow", Dimension.PRESSURE, judges=("pressure", "sag")),
        reading("flowing_pressure", "Pipeline pressure under flow", Dimension.PRESSURE, required=False, asked=True,
                judges=("flowing_pressure", "sag")),
        reading("flow", "Flow during that reading", Dimension.FLOW, required=False, stated=True, asked=True,
                help="10 L/min or more", judges=("flowing_pressure", "sag")),
    ),
    tables=(),
    choices=(),
    rated=(),
    results=(
        ResultSpec("pressure", "Pipeline pressure", Dimension.PRESSURE, "psi", "gauge; no flow",
                    NoChallenge("the rules are of the pressure without flow; the one under flow is judged apart")),
        ResultSpec("flowing_pressure", "Pipeline pressure under flow", Dimension.PRESSURE, "psi", "gauge; as read",
                    PIPELINE_FLOWING, needed=True),
        ResultSpec("sag", "Pressure drop under flow", Dimension.PRESSURE, "psi",
                    "pressure without flow minus pressure under flow", PIPELINE_FLOWING, own_limit=True),
    ),
    default_limits=_PIPELINE_LIMITS,
    source="see the rule of each limit",
    evaluate=evaluate_pipeline,
    pairs=(NeverAbove(("flowing_pressure", ""), ("pressure", ""), "A pipeline gives less pressure under flow."),),
)  # fmt: skip
