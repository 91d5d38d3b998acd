"""What staff breathe: the time-weighted average of waste anaesthetic gas over a case and a shift, and its ceiling.

The air is sampled where a person breathes, in intervals of known length. What was not sampled is not known, so an
average passes only where the intervals cover the time with gas.
"""

from collections.abc import Callable, Sequence

from fleet.late import np

from .challenges import Challenge, Reason, Unmet
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .errors import BenchError
from .exposure_limits import EIGHT_HOURS, HOUR, NITROUS, SHIFT_LIMITS, exposure_limits, mg_per_m3
from .measuring import Bench, Row
from .pictures import points
from .propagation import Measured, propagate_measured
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Curve, Evaluation, Result
from .specs import observation, reading
from .uncertainty import Estimate

COVERED = 0.9  # share of the time with gas that the intervals have to cover; common practice, no source
OTHER = "other"
Interval = tuple[Measured, Measured]  # duration and fraction


def evaluate_exposure(sheet: Sheet, context: Context) -> Evaluation:
    """Return averages over the intervals and eight hours, and the highest hour. Raises BenchError (see Test)."""
    bench = Bench(EXPOSURE, sheet, context)
    intervals = _intervals(bench)
    bench.value("gas_time", nominal=True)
    bench.value("breathing_zone")
    if not intervals:
        return bench.finish(())
    gas = bench.choice("gas")
    results = [_case(bench, intervals), *_shift(bench, gas, intervals)]
    if gas != NITROUS:
        results.append(_ceiling(bench, intervals))
    if mass := mg_per_m3(results[0].value_si, gas, context.ambient_pa_abs, context.temperature_k):
        bench.remarks.append(f"The average over the intervals is {mass:.3g} mg/m³ at the pressure of the room.")
    return bench.finish(results, _curve(bench, intervals))


def _intervals(bench: Bench) -> list[Interval]:
    found = []
    for number, row in bench.rows("intervals"):
        found.append((_duration(number, row), row["concentration"]))
    return found


def _duration(number: int, row: Row) -> Measured:
    if row["duration"].value == 0:
        raise BenchError(
            f"intervals[{number}].duration", f"Row {number}: an interval of no length has no average. Enter how long "
            "was sampled, or remove the row.",
        )  # fmt: skip
    return row["duration"]


def _propagated(function: Callable[..., float], intervals: Sequence[Interval]) -> Estimate:
    """Return function(durations, fractions) with the uncertainty of both."""
    count = len(intervals)
    durations, fractions = zip(*intervals, strict=True)
    return propagate_measured(lambda *all: function(all[:count], all[count:]), (*durations, *fractions))


def mean_over_time(durations: Sequence[float], fractions: Sequence[float]) -> float:
    """Return the time-weighted mean of fractions over intervals, s."""
    return float(np.dot(durations, fractions) / np.sum(durations))


def mean_over_shift(durations: Sequence[float], fractions: Sequence[float]) -> float:
    """Return the mean over eight hours, or over the intervals where they are longer, with no gas in the rest."""
    return float(np.dot(durations, fractions) / max(EIGHT_HOURS, np.sum(durations)))


def highest_hour(durations: Sequence[float], fractions: Sequence[float]) -> float:
    """Return the highest mean of any hour of intervals that follow each other; of all of them if they are shorter.

    The mean over a window that moves is straight between the places where one of its ends meets an end of an interval.
    """
    ends = np.concatenate(([0.0], np.cumsum(durations)))
    if ends[-1] <= HOUR:
        return mean_over_time(durations, fractions)
    dose = np.concatenate(([0.0], np.cumsum(np.multiply(durations, fractions))))
    starts = np.concatenate((ends, ends - HOUR))
    starts = starts[(starts >= 0) & (starts <= ends[-1] - HOUR)]
    return float(np.max(np.interp(starts + HOUR, ends, dose) - np.interp(starts, ends, dose)) / HOUR)


def _case(bench: Bench, intervals: Sequence[Interval]) -> Result:
    total = sum(duration.value for duration, _ in intervals)
    how = f"time-weighted over the {from_si(total, 'min'):.3g} min of the intervals"
    unjudged = "" if bench.choice("gas") == NITROUS else "For this gas the highest hour is limited, and the shift."
    return bench.result("case_average", _propagated(mean_over_time, intervals), convention=how, unjudged=unjudged)


def _shift(bench: Bench, gas: str, intervals: Sequence[Interval]) -> list[Result]:
    if gas not in SHIFT_LIMITS:
        bench.remarks.append("No limit over eight hours was found for this gas: the highest hour is judged alone.")
        return []
    return [bench.result(f"shift_{gas}", _propagated(mean_over_shift, intervals))]


def _ceiling(bench: Bench, intervals: Sequence[Interval]) -> Result:
    key = "ceiling_mixed" if bench.choice("with_nitrous") == "yes" else "ceiling"
    return bench.result(key, _propagated(highest_hour, intervals))


def _covered(bench: Bench) -> Unmet | None:
    zone = bench.value("breathing_zone")
    if zone is None or zone.value == 0:
        why = "The air was not sampled where a person breathes, or that is not stated: sample there."
        return Unmet(why, Reason.NOT_KNOWN if zone is None else Reason.NOT_CHALLENGED, fail_stands=False)
    gas, sampled = bench.value("gas_time", nominal=True), sum(one.value for one, _ in _intervals(bench))
    if gas is None:
        return Unmet("How long gas was given is not stated, so the intervals may miss the worst.", Reason.NOT_KNOWN)
    if sampled >= COVERED * gas.value * (1 - 1e-9):
        return None
    shown = f"{from_si(sampled, 'min'):.3g} of {from_si(gas.value, 'min'):.3g} min"
    return Unmet(f"{shown} with gas were sampled: sample nine tenths of it or more.")


def _curve(bench: Bench, intervals: Sequence[Interval]) -> tuple[Curve, ...]:
    x_unit, y_unit = bench.unit("intervals", "duration"), bench.unit("intervals", "concentration")
    steps, at = [], 0.0
    for duration, fraction in intervals:
        steps += [(Measured(at), fraction), (Measured(at + duration.value), fraction)]
        at += duration.value
    series = (points("sampled", steps, x_unit, y_unit, "line"),)
    return (Curve("exposure", "Exposure over time", "time", x_unit, "concentration", y_unit, series),)


_COVERED = Challenge("sampled where a person breathes, for nine tenths of the time with gas", _covered)
_SHIFTS = tuple(f"shift_{gas}" for gas in SHIFT_LIMITS)
_JUDGED = ("case_average", *_SHIFTS, "ceiling", "ceiling_mixed")
_GASES = (
    (NITROUS, "nitrous oxide"), ("isoflurane", "isoflurane"), ("enflurane", "enflurane"), ("halothane", "halothane"),
    (OTHER, "another halogenated agent"),
)  # fmt: skip


def _is_halogenated(with_nitrous: str) -> Callable[[Bench], bool]:
    return lambda bench: bench.choice("gas") != NITROUS and bench.choice("with_nitrous") == with_nitrous


EXPOSURE = Test(
    code="exposure",
    family="scavenging",
    title="Exposure to waste gas",
    purpose=(
        "Find what staff breathe of one anaesthetic gas. Sample within a hand's breadth of mouth and nose of the "
        "person nearest to the machine, for as long as gas is given, and enter one row for each interval with its mean "
        "concentration, in order and without a gap. A mask that does not seal, a vaporizer filled in the room, flow "
        "left on between cases and a scavenging hose that is off are what usually raises it."
    ),
    cautions=(
        "For qualified personnel: the rules of the place on exposure at work come first.",
        "An infrared analyser for one gas answers to others, to alcohol and to moisture as well: zero it in outdoor "
        "air and note what else is used in the room.",
        "An average says nothing of a short peak, and a low one does not show that the machine is tight.",
    ),
    readings=(
        observation("breathing_zone", "Was the air sampled where a person breathes?", required=False, asked=True,
                    judges=_JUDGED),
        reading("gas_time", "Time during which gas was given", Dimension.TIME, first="min", required=False, asked=True,
                stated=True, judges=_JUDGED, help="in the shift, all cases together"),
    ),
    tables=(
        TableSpec("intervals", "Intervals sampled", (
            reading("duration", "Duration", Dimension.TIME, first="min", judges=_JUDGED),
            reading("concentration", "Mean concentration", Dimension.FRACTION, first="ppm", judges=_JUDGED)),
            1, 6, "one after the other, in the order of time"),
    ),
    choices=(
        ChoiceSpec("gas", "Gas", _GASES, NITROUS),
        ChoiceSpec("with_nitrous", "Nitrous oxide given with it", (("yes", "yes"), ("no", "no")), "yes",
                   tuple((("gas", gas),) for gas, _ in _GASES if gas != NITROUS)),
    ),
    rated=(),
    results=(
        ResultSpec("case_average", "Average over the intervals", Dimension.FRACTION, "ppm",
                   "time-weighted over the intervals", _COVERED,
                   needed=lambda bench: bench.choice("gas") == NITROUS),
        *(ResultSpec(f"shift_{gas}", f"Average over 8 h, {dict(_GASES)[gas]}", Dimension.FRACTION, "ppm",
                     "time-weighted over eight hours; no gas in what was not sampled", _COVERED,
                     needed=lambda bench, gas=gas: bench.choice("gas") == gas) for gas in SHIFT_LIMITS),
        ResultSpec("ceiling", "Highest hour", Dimension.FRACTION, "ppm", "highest mean of any 60 min", _COVERED,
                   needed=_is_halogenated("no")),
        ResultSpec("ceiling_mixed", "Highest hour, nitrous oxide given as well", Dimension.FRACTION, "ppm",
                   "highest mean of any 60 min", _COVERED, needed=_is_halogenated("yes")),
    ),
    default_limits=exposure_limits(),
    source="NIOSH 77-140; EH40/2005; ACGIH threshold limit values; JCGM 100:2008 for the average",
    evaluate=evaluate_exposure,
)  # fmt: skip
