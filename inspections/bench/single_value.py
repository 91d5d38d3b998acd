"""The oxygen flush: its flow, read directly or from the time to fill a known volume."""

from .challenges import Challenge, Unmet
from .declarations import ChoiceSpec, Context, ResultSpec, Test
from .errors import BenchError
from .limits import FROM_MEMORY, SEEN
from .measuring import Bench
from .propagation import propagate_measured
from .quantities import Dimension
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, must_be_yes, observation, reading, with_option
from .uncertainty import Estimate


def evaluate_flush(sheet: Sheet, context: Context) -> Evaluation:
    """Return the flush flow, read directly or from the time to fill a known volume."""
    bench = Bench(FLUSH, sheet, context)
    method = bench.choice("method")
    flow = _timed_flow(bench) if method == "timed" else _direct_flow(bench)
    results: list[Result] = []
    if flow is not None:
        spec = next(spec for spec in FLUSH.choices if spec.key == "method")
        results.append(bench.result("flush_flow", flow, convention=f"ambient volume; {dict(spec.options)[method]}"))
    results += _seen(bench, "stops_on_release")
    return bench.finish(results)


SHORTEST_FILLING = (
    2.0  # s; two presses of a stopwatch are 0.15 s apart by chance: 8 % of it. Common practice, no source
)


def _filled_slowly(bench: Bench) -> Unmet | None:
    time = bench.value("time")
    if bench.choice("method") != "timed" or time is None or time.value >= SHORTEST_FILLING:
        return None
    why = f"Filling took {time.value:.3g} s, too short to be timed by hand: fill a larger volume."
    return Unmet(why, fail_stands=False)


def _flush_flowed(bench: Bench) -> Unmet | None:
    flow = _timed_flow(bench) if bench.choice("method") == "timed" else _direct_flow(bench)
    if flow is not None and flow.value > 0:
        return None
    return Unmet("No flush flow was read, so there was nothing to stop.")


def _direct_flow(bench: Bench) -> Estimate | None:
    flow = bench.value("flow", needed=True)
    return None if flow is None else flow.estimate


def _timed_flow(bench: Bench) -> Estimate | None:
    volume, time = bench.value("volume", needed=True), bench.value("time", needed=True)
    if volume is None or time is None:
        return None
    if time.value == 0:
        raise BenchError("time", "Time to fill: 0 s is not possible. Enter the time shown on the stopwatch.")
    return propagate_measured(lambda filled, took: filled / took, (volume, time))


def _seen(bench: Bench, key: str) -> list[Result]:
    seen = bench.value(key)
    return [] if seen is None else [bench.result(key, seen.estimate)]


_APSF = 'apsf.org "Understanding your machine: O2 flush valve"'

_FLUSHED = ("flush_flow", "stops_on_release")

FLUSH = Test(
    code="oxygen-flush",
    family="flow",
    title="Oxygen flush",
    purpose="Measure the oxygen flush flow.",
    cautions=(
        NEVER_ON_A_PATIENT,
        "The flush gives up to 75 L/min at supply pressure. Leave the outlet open; never flush into a closed circuit "
        "or a lung.",
    ),
    readings=(
        reading("flow", "Flush flow", Dimension.FLOW, required=False, asked=True,
                help="read on a flowmeter at the common gas outlet", judges=_FLUSHED,
                wanted=with_option("method", "direct")),
        reading("volume", "Volume filled", Dimension.VOLUME, first="L", required=False, asked=True,
                help="for the timed filling method", judges=_FLUSHED, wanted=with_option("method", "timed")),
        reading("time", "Time to fill", Dimension.TIME, required=False, asked=True,
                help="for the timed filling method", judges=_FLUSHED, wanted=with_option("method", "timed")),
        observation("stops_on_release", "Does the flow stop when the flush is released?", required=False,
                    judges=("stops_on_release",), asked=True),
    ),
    tables=(),
    choices=(
        ChoiceSpec("method", "Method", (("direct", "read on a flowmeter"), 
                                        ("timed", "timed filling of a known volume")),
                   "direct"),
    ),
    rated=(),
    results=(
        ResultSpec("flush_flow", "Flush flow", Dimension.FLOW, "L/min", "ambient volume",
                    Challenge("flush held open; when timed, for 2 s or longer", _filled_slowly), needed=True),
        ResultSpec("stops_on_release", "Stops on release", Dimension.OBSERVATION, "yes/no", "as seen",
                    Challenge("flow of the flush read before its release", _flush_flowed), needed=True),
    ),
    default_limits=(
        limit("flush_flow", "us-35-75", "35 to 75 L/min", (35, 75), "L/min", _APSF, "-", SEEN,
              note="ASTM F1850 and ISO 5358 give the same figures (from memory)."),
        limit("flush_flow", "ksa-35", "At least 35 L/min", (35, None), "L/min",
              "national society mandatory safety requirements, Kenya", "-", SEEN),
        limit("flush_flow", "iso80601-25-75", "25 to 75 L/min", (25, 75), "L/min", "ISO 80601-2-13", "2011",
              FROM_MEMORY, built=(2011, None), note="The lower limit differs between editions, so this rule applies "
                                                    "only where a procedure names it."),
        must_be_yes("stops_on_release", "Stops on release", "Anaesthesia 2012; 67: 660-68, step 6", "2012"),
    ),
    source=_APSF,
    evaluate=evaluate_flush,
)  # fmt: skip
