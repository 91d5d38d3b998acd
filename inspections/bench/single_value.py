"""Tests of one or two values: oxygen flush and oxygen analyser."""

from .assumed_accuracy import STATED_GAS
from .challenges import Challenge, NoChallenge, Unmet
from .declarations import ChoiceSpec, Context, ResultSpec, Test
from .errors import BenchError
from .impossible import NeverAbove
from .limits import FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .propagation import propagate_measured
from .quantities import Dimension
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading, with_option
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


def evaluate_analyser(sheet: Sheet, context: Context) -> Evaluation:
    """Return the analyser in room air, after the flush, and against a reference gas if one was used."""
    bench = Bench(ANALYSER, sheet, context)
    results: list[Result] = []
    for key in ("air_reading", "flush_reading"):
        measured = bench.value(key, nominal=True)  # the analyser is what is tested, not an instrument
        if measured is not None:
            results.append(bench.result(key, measured.estimate))
    results += _against_reference(bench)
    results += _seen(bench, "low_alarm_works")
    return bench.finish(results)


def _against_reference(bench: Bench) -> list[Result]:
    shown, reference = bench.value("span_reading", nominal=True), bench.value("reference_fraction", stated=STATED_GAS)
    if shown is None and reference is None:
        return []
    if shown is None or reference is None:
        bench.missing.append("Both readings: the analyser in the reference gas, and the oxygen fraction of that gas")
        return []
    error = propagate_measured(lambda seen, true: seen - true, (shown, reference))
    return [bench.result("span_error", error, limit=analyser_band(reference.value))]


def analyser_band(reference: float) -> Limit:
    """Return the limit of error a + b x reference of an oxygen monitor, taken at the reference value.

    reference  oxygen fraction 0..1. At 1 the band of the reading is 95 to 105 %, at 0.21 it is 17.975 to 24.025 %.
    """
    band = 2.5 + 2.5 * reference
    return limit(
        "span_error", "iso80601-2-55", "2.5 % oxygen + 2.5 % of level", (-band, band), "%",
        "ISO 80601-2-55", "ISO 80601-2-55", FROM_MEMORY,
    )  # fmt: skip


def _yes(key: str, title: str, source: str, edition: str) -> Limit:
    return limit(key, "must-be-yes", title, (1, None), "yes/no", source, edition, SEEN)


_APSF = 'apsf.org "Understanding your machine: O2 flush valve"'
_CHECK = "FDA Anesthesia Apparatus Checkout Recommendations"

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
        _yes("stops_on_release", "Stops on release", "Anaesthesia 2012; 67: 660-68, step 6", "2012"),
    ),
    source=_APSF,
    evaluate=evaluate_flush,
)  # fmt: skip

ANALYSER = Test(
    code="oxygen-analyser",
    family="ventilator and monitors",
    title="Oxygen analyser",
    purpose="Check the oxygen analyser in room air and after an oxygen flush.",
    cautions=(NEVER_ON_A_PATIENT, "Oxygen-enriched gas supports fire: keep flames, sparks, oil and grease away."),
    readings=(
        reading("air_reading", "Analyser in room air", Dimension.FRACTION, stated=True, judges=("air_reading",)),
        reading("flush_reading", "Analyser after an oxygen flush", Dimension.FRACTION, stated=True,
                judges=("flush_reading",)),
        reading("span_reading", "Analyser in a reference gas", Dimension.FRACTION, required=False, stated=True,
                judges=("span_error",)),
        reading("reference_fraction", "Oxygen in the reference gas", Dimension.FRACTION, required=False, stated=True,
                judges=("span_error",)),
        observation("low_alarm_works", "Does the low-oxygen alarm work?", required=False,
                    judges=("low_alarm_works",), asked=True),
    ),
    tables=(),
    choices=(),
    rated=(),
    results=(
        ResultSpec("air_reading", "In room air", Dimension.FRACTION, "%", "volume fraction as read; room air 21 %",
                    NoChallenge("room air is the reference, and the reading after the flush shows that it moves"),
                    needed=True),
        ResultSpec("flush_reading", "After the flush", Dimension.FRACTION, "%", "volume fraction as read",
                    NoChallenge("so much oxygen is shown only where oxygen has come"), needed=True),
        ResultSpec("span_error", "Error in the reference gas", Dimension.FRACTION, "%",
                    "analyser reading minus reference", NoChallenge("the reference gas is the challenge"),
                    own_limit=True),
        ResultSpec("low_alarm_works", "Low-oxygen alarm works", Dimension.OBSERVATION, "yes/no", "as seen",
                    NoChallenge("an alarm that was seen to work was set off"), needed=True),
    ),
    default_limits=(
        limit("air_reading", "iso80601-2-55", "17.975 to 24.025 % at 21 %", (17.975, 24.025), "%",
              "ISO 80601-2-55: 2.5 % oxygen + 2.5 % of level, taken at 21 %", "ISO 80601-2-55", FROM_MEMORY),
        limit("air_reading", "iso7767", "18 to 24 % at 21 %", (18, 24), "%", "ISO 7767: 3 % oxygen", "1997",
              FROM_MEMORY),
        limit("flush_reading", "fda93", "More than 90 %", (90, None), "%", f"{_CHECK}, step 9", "1993", SEEN,
              strict=True),
        _yes("low_alarm_works", "Low-oxygen alarm works", f"{_CHECK}, step 9", "1993"),
    ),
    source=f"{_CHECK}, step 9; ISO 80601-2-55",
    evaluate=evaluate_analyser,
    pairs=(NeverAbove(("air_reading", ""), ("flush_reading", ""), "After a flush oxygen fills the outlet."),),
)  # fmt: skip
