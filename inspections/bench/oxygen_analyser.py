"""The oxygen analyser in room air, in the oxygen of the site, and in a reference gas."""

from dataclasses import replace

from .assumed_accuracy import STATED_GAS
from .challenges import NoChallenge
from .declarations import ChoiceSpec, Context, ResultSpec, Test
from .impossible import NeverAbove
from .limits import FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .oxygen_here import DRY, WET, Expected, expected_here, oxygen_band
from .propagation import propagate_measured
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, must_be_yes, observation, reading
from .vapour import PARTIAL, SHARE


def evaluate_analyser(sheet: Sheet, context: Context) -> Evaluation:
    """Return the analyser in room air, after the flush, and against a reference gas if one was used."""
    here = expected_here(Bench(TEST, sheet, context))
    bench = Bench(TEST, sheet, _with_limits(context, here))
    results: list[Result] = []
    for key, expected in here.items():
        measured = bench.value(key, nominal=True)  # the analyser is what is tested, not an instrument
        if measured is not None:
            estimate = measured.estimate if expected.is_ordinary else expected.judged(measured)
            results.append(bench.result(key, estimate, remark=_expected(expected)))
    _explain(bench, here)
    results += _against_reference(bench)
    alarm = bench.value("low_alarm_works")
    results += [] if alarm is None else [bench.result("low_alarm_works", alarm.estimate)]
    return bench.finish(results)


def _with_limits(context: Context, here: dict[str, Expected]) -> Context:
    """Return the context with the limits that follow from the site where the published ones do not fit.

    A limit that somebody set for the machine or the site stays.
    """
    made = {
        key: one.limit for key, one in here.items() if not one.is_ordinary and _is_published(context.limits.get(key))
    }
    return replace(context, limits={**context.limits, **made})


def _is_published(given: Limit | None) -> bool:
    """Return whether a limit is one that the test declares, and not one that was set here for a reason."""
    declared = {(one.key, one.rule, one.note) for one in TEST.default_limits}
    return given is None or (given.key, given.rule, given.note) in declared


def _expected(expected: Expected) -> str:
    return "" if expected.is_ordinary else f"Expected here: {from_si(expected.value, '%'):.4g} %. {expected.why}"


def _explain(bench: Bench, here: dict[str, Expected]) -> None:
    flush, oxygen = here["flush_reading"], bench.context.oxygen
    if oxygen.is_weak:
        judge = flush.limit
        low, high = (from_si(end, "%") for end in (judge.lower_si, judge.upper_si))
        bench.remarks.append(
            f"The site is supplied with {oxygen.words}. A right analyser shows {from_si(flush.value, '%'):.4g} % after "
            f"the flush: {low:.3g} to {high:.3g} % is asked for, and not “more than 90 %”, which is meant for oxygen."
        )
        if oxygen.percent is None:
            bench.assume("the oxygen of the supply lies anywhere within its grade; its percentage is not stated for "
                         "the site.")  # fmt: skip
    if bench.choice("shows") == PARTIAL:
        bench.assume(bench.context.assumed.get("ambient", ""))
        air = from_si(here["air_reading"].value, "%")
        bench.remarks.append(
            f"Set at sea level, the analyser shows {air:.4g} % in the room air of this site, and its alarm limits mean "
            "as much less or more: set it in room air here before it is used."
        )


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
    band = oxygen_band(reference)
    return limit(
        "span_error", "iso80601-2-55", "2.5 % oxygen + 2.5 % of level", (-band, band), "%",
        "ISO 80601-2-55", "ISO 80601-2-55", FROM_MEMORY,
    )  # fmt: skip


_CHECK = "FDA Anesthesia Apparatus Checkout Recommendations"

TEST = Test(
    code="oxygen-analyser",
    family="ventilator and monitors",
    title="Oxygen analyser",
    purpose="Check the oxygen analyser in room air and in the oxygen of the site, after a flush of two minutes. What "
            "is right after the flush follows from what the site is supplied with: oxygen 93 of a concentrator plant "
            "does not reliably show more than 90 %. Keep the sensor dry; where it sits in a moist circle or was set "
            "at another altitude, choose so below.",
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
    choices=(
        ChoiceSpec("shows", "What the analyser shows",
                   ((SHARE, "share of the gas: set in room air at this site, or it allows for the ambient pressure"),
                    (PARTIAL, "partial pressure as percent of sea level: set there, no allowance")), SHARE),
        ChoiceSpec("moisture", "Gas at the sensor",
                   ((DRY, "dry, as room air and supplied gas nearly are"), (WET, "saturated at 37 °C")), DRY),
    ),
    rated=(),
    results=(
        ResultSpec("air_reading", "In room air", Dimension.FRACTION, "%", "volume fraction as read; room air 21 %",
                    NoChallenge("room air is the reference, and the reading after the flush shows that it moves"),
                    needed=True, own_limit=True),
        ResultSpec("flush_reading", "After the flush", Dimension.FRACTION, "%", "volume fraction as read",
                    NoChallenge("so much oxygen is shown only where oxygen has come"), needed=True, own_limit=True),
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
        must_be_yes("low_alarm_works", "Low-oxygen alarm works", f"{_CHECK}, step 9", "1993"),
    ),
    source=f"{_CHECK}, step 9; ISO 80601-2-55; U.S. Standard Atmosphere 1976; PubMed 2973341",
    evaluate=evaluate_analyser,
    asks=("oxygen",),
    pairs=(NeverAbove(("air_reading", ""), ("flush_reading", ""), "After a flush oxygen fills the outlet."),),
)  # fmt: skip
