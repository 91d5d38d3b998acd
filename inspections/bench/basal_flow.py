"""The basal flow: the oxygen that flows with all flow controls closed and the master switch on."""

from .challenges import Challenge, Reason, Unmet
from .decay import standard_flow
from .declarations import ChoiceSpec, Context, ResultSpec, Test
from .judging import judged_result
from .limits import FROM_MEMORY, LOCAL, Limit
from .measuring import Bench
from .propagation import Measured
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading

USUAL_TYPE, OLDER_TYPE, NONE_FITTED = "usual", "older", "none"
_SOURCE = "anaesthesia textbooks"


def evaluate(sheet: Sheet, context: Context) -> Evaluation:
    """Return the basal flow, judged by the rule of its type; reported only where none is fitted."""
    bench = Bench(TEST, sheet, context)
    flow = bench.value("flow", needed=_is_fitted(bench))
    bench.value("controls_closed")
    if not _is_fitted(bench):
        bench.remarks.append("No basal flow is fitted, by what was chosen: that none flows is not a failure.")
    if flow is None:
        return bench.finish(())
    if flow.value > 0:
        _say_conditions(bench, flow)
    return bench.finish([_basal(bench, flow)])


def _is_fitted(bench: Bench) -> bool:
    return bench.choice("type") != NONE_FITTED


def _basal(bench: Bench, flow: Measured) -> Result:
    """Return the flow judged by the rule of the chosen type; a limit of the house comes before both."""
    chosen = bench.choice("type")
    if chosen == NONE_FITTED:
        return bench.result("basal_flow", flow.estimate, unjudged="No basal flow is fitted, by what was chosen.")
    result = bench.result("basal_flow", flow.estimate)
    if chosen == USUAL_TYPE or result.limit.basis == LOCAL:
        return result
    spec = bench.test.result_spec("basal_flow")
    return judged_result(
        spec, flow.estimate, older_limit(), unmet=spec.challenge.unmet(bench.aside()), unit=result.unit
    )  # fmt: skip


def older_limit() -> Limit:
    """Return the limit of the few older types with a wider range."""
    return limit(
        "basal_flow", "basal-50-250", "Older types: 50 to 250 mL/min", (50, 250), "mL/min", _SOURCE, "-", FROM_MEMORY,
        note="For the types that the manufacturer's instructions give it for; these come first.",
    )  # fmt: skip


def _say_conditions(bench: Bench, flow: Measured) -> None:
    """Remark at what pressure and temperature the flow was read, and what it is at 20 °C and 101.325 kPa."""
    pa_abs, kelvin = bench.context.ambient_pa_abs, bench.context.temperature_k
    standard = from_si(standard_flow(flow.value, pa_abs, kelvin), "mL/min")
    bench.remarks.append(
        f"Read at {pa_abs / 1000:.1f} kPa absolute and {kelvin - 273.15:.0f} °C, as which it counts; the same gas is "
        f"{standard:.0f} mL/min at 20 °C and 101.325 kPa."
    )


def _controls_were_closed(bench: Bench) -> Unmet | None:
    closed = bench.value("controls_closed")
    if closed is None:
        why = "Whether every flow control was closed with the master switch on is not stated."
        return Unmet(why, Reason.NOT_KNOWN, fail_stands=False)
    if closed.value == 1:
        return None
    why = "A flow control was open or the master switch off: close every control, switch on, and read again."
    return Unmet(why, fail_stands=False)


_JUDGED = ("basal_flow",)

TEST = Test(
    code="basal-flow",
    family="flow",
    title="Basal oxygen flow",
    purpose="Measure the oxygen that flows with all flow controls closed and the master switch on. Read it at the "
            "common gas outlet on a flowmeter for small flows. A leak before the outlet makes it look too small, a "
            "control that does not close too large.",
    cautions=(
        NEVER_ON_A_PATIENT,
        "Close the flow controls gently: force damages their seats.",
        "Use a flowmeter of low resistance: a back pressure drives part of so small a flow through every leak.",
    ),
    readings=(
        reading("flow", "Basal oxygen flow", Dimension.FLOW, first="mL/min", required=False, asked=True, gas="oxygen",
                help="{vaporizer|vaporizers off, }{second-gas|no other gas open, }after the reading has come to rest",
                judges=_JUDGED),
        observation("controls_closed", "Was every flow control closed, with the master switch on?", required=False,
                    asked=True, judges=_JUDGED),
    ),
    tables=(),
    choices=(
        ChoiceSpec("type", "Basal flow of the machine",
                   ((USUAL_TYPE, "150 to 300 mL/min"), (OLDER_TYPE, "older type, 50 to 250 mL/min"),
                    (NONE_FITTED, "none is fitted")), USUAL_TYPE),
    ),
    rated=(),
    results=(
        ResultSpec("basal_flow", "Basal oxygen flow", Dimension.FLOW, "mL/min",
                    "volume flow at the pressure and temperature of the room, as read",
                    Challenge("every flow control closed, master switch on", _controls_were_closed), needed=_is_fitted),
    ),
    default_limits=(
        limit("basal_flow", "basal-150-300", "150 to 300 mL/min", (150, 300), "mL/min", _SOURCE, "-", FROM_MEMORY,
              note="The basal flow that the manufacturer's instructions state comes first."),
    ),
    source=_SOURCE,
    evaluate=evaluate,
)  # fmt: skip
