"""A pressure gauge of the machine against a reference, rising and falling, by its accuracy class.

The class of EN 837-1 is the largest error as a percentage of the span, and so the same in pressure at every mark: at a
tenth of the scale it is ten times as large a share of what is read.
"""

from .challenges import Challenge, Reason, Unmet, first_unmet
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .gauge_points import FALLING, RISING, Point, apart_from, needle, read_points, span_of
from .impossible import NeverCrosses
from .limits import FROM_MEMORY, Limit
from .measuring import Bench
from .pictures import points
from .propagation import Measured, propagate_measured
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Curve, Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, reading
from .strictest import gravest

CLASSES = {"1": 1.0, "1.6": 1.6, "2.5": 2.5, "4": 4.0}  # EN 837-1, from memory
LEAST_POINTS = 3  # rising; EN 837-1 asks for five of a new gauge (from memory), common practice for one in use
LOW, HIGH = 0.3, 0.9  # shares of the span between which the points must reach; common practice, no source
ENOUGH = 4.0  # test uncertainty ratio; ANSI/NCSL Z540.3, from memory


def evaluate_gauge(sheet: Sheet, context: Context) -> Evaluation:
    """Return the gravest error, the hysteresis and the zero of a gauge. Raises BenchError (see Test)."""
    bench = Bench(GAUGE, sheet, context)
    span = span_of(bench)
    if span is None:
        read_points(bench, RISING, 0.0), read_points(bench, FALLING, 0.0)
        return bench.finish(())
    rising, falling = read_points(bench, RISING, span), read_points(bench, FALLING, span)
    results = [
        *_errors(bench, [*rising, *falling], span),
        *_hysteresis(bench, rising, falling, span),
        *_zero(bench, span),
    ]
    _say_ratio(bench, rising, span)
    return bench.finish(results, _curve(bench, rising, falling))


def class_limit(key: str, code: str) -> Limit:
    """Return the limit of an accuracy class of EN 837-1, as a share of the span."""
    size = CLASSES[code]
    least = None if key == "hysteresis" else -size
    return limit(
        key, "en837-1", f"Class {code}: within {code} % of full scale", (least, size), "%", "EN 837-1", "EN 837-1",
        FROM_MEMORY, note="The class is printed on the dial. Of a gauge with a stop pin it holds from a tenth of the "
                          "scale on.",
    )  # fmt: skip


def _limit(bench: Bench, key: str) -> Limit:
    return class_limit(key, bench.choice("accuracy_class"))


def _errors(bench: Bench, points_read: list[Point], span: float) -> list[Result]:
    if not points_read:
        return []
    judge = bench.context.limits.get("worst_error") or _limit(bench, "worst_error")
    errors = [(one.error(span), judge) for one in points_read]
    number = gravest(bench.test.result_spec("worst_error"), errors)
    worst, error = points_read[number], errors[number][0]
    return [bench.result("worst_error", error, limit=_limit(bench, "worst_error"), remark=worst.where)]


def _hysteresis(bench: Bench, rising: list[Point], falling: list[Point], span: float) -> list[Result]:
    """Return the largest difference, falling less rising, where both were read; between two points on a line."""
    found = [apart for one in falling if (apart := apart_from(one, rising, span)) is not None]
    if falling and rising and not found:
        bench.missing.append(
            "Falling pressures between the lowest and the highest of the rising ones, for the hysteresis"
        )
    if not found:
        return []
    place, largest = max(found, key=lambda one: one[1].value)
    return [bench.result("hysteresis", largest, limit=_limit(bench, "hysteresis"), remark=place.where)]


def _zero(bench: Bench, span: float) -> list[Result]:
    shown = bench.value("zero_after", nominal=True)
    if shown is None:
        return []
    found = propagate_measured(lambda one: one / span, (needle(bench, shown, span),))
    return [bench.result("zero_after", found, limit=_limit(bench, "zero_after"))]


def _say_ratio(bench: Bench, rising: list[Point], span: float) -> None:
    """Remark how much finer the reference is than the class; below 4 to 1 it decides only what is clear."""
    if not rising:
        return
    own = max(one.reference.estimate.expanded() for one in rising)
    allowed = CLASSES[bench.choice("accuracy_class")] / 100 * span
    if own <= 0:
        return
    weak = "" if allowed / own >= ENOUGH else " A reference four times as fine as the class is asked for."
    bench.remarks.append(
        f"The reference is uncertain by {from_si(own, 'kPa'):.3g} kPa, the class allows {from_si(allowed, 'kPa'):.3g} "
        f"kPa: {allowed / own:.2g} to 1.{weak}"
    )


# --- what must have been done ---


def _read_apart(bench: Bench) -> Unmet | None:
    for way in (RISING, FALLING):
        for number, row in bench.rows(way, nominal=("shown",)):
            if not row["reference"].instrument:
                why = (
                    f"{way.capitalize()}, row {number}: no reference is named. A gauge is no reference for itself, and "
                    "a second gauge of the machine is none: read a calibrated instrument, and name it."
                )
                return Unmet(why, Reason.OWN_REFERENCE)
    return None


def _over_the_scale(bench: Bench) -> Unmet | None:
    span = span_of(bench)
    shares = sorted({row["reference"].value / span for _, row in bench.rows(RISING, nominal=("shown",))})
    if len(shares) >= LEAST_POINTS and shares[0] <= LOW + 1e-9 and shares[-1] >= HIGH - 1e-9:
        return None
    return Unmet(
        f"Read {LEAST_POINTS} rising pressures or more, the lowest at {LOW:.0%} of the full scale or below, the "
        f"highest at {HIGH:.0%} or above."
    )


def _from_the_top(bench: Bench) -> Unmet | None:
    span = span_of(bench)
    reached = [row["reference"].value / span for way in (RISING, FALLING)
               for _, row in bench.rows(way, nominal=("shown",))]  # fmt: skip
    if reached and max(reached) >= HIGH - 1e-9:
        return None
    return Unmet(
        f"The pressure went to {max(reached, default=0.0):.0%} of the full scale: go to {HIGH:.0%} before it falls."
    )


def _curve(bench: Bench, rising: list[Point], falling: list[Point]) -> tuple[Curve, ...]:
    if not rising:
        return ()
    x_unit, y_unit = bench.unit(RISING, "reference"), bench.unit(RISING, "shown")
    series = tuple(
        points(way, [(one.reference, Measured(one.shown.value - one.reference.value)) for one in read], x_unit, y_unit)
        for way, read in ((RISING, rising), (FALLING, falling))
        if read
    )
    return (Curve("errors", "Error of the gauge", "reference", x_unit, "gauge minus reference", y_unit, series),)


def _table(key: str, label: str, judges: tuple[str, ...], least: int, help: str) -> TableSpec:
    columns = (
        reading("reference", "Reference", Dimension.PRESSURE, judges=judges),
        reading("shown", "Gauge", Dimension.PRESSURE, stated=True, judges=judges),
    )
    return TableSpec(key, label, columns, least, 4, help, is_expected=True, sets=("reference",))


_APART = Challenge(
    "a calibrated reference beside the gauge, over the scale",
    first_unmet(_read_apart, _over_the_scale),
)
_BACK = Challenge(
    "a calibrated reference, the gauge brought to 90 % of its scale first", first_unmet(_read_apart, _from_the_top)
)
_BACK_TO_ZERO = Challenge("the gauge brought to 90 % of its scale before", _from_the_top)
_ALL = ("worst_error", "hysteresis", "zero_after")

GAUGE = Test(
    code="pressure-gauge",
    family="cylinders and gauges",
    title="Pressure gauge",
    purpose=(
        "Compare a gauge of the machine with a reference, upwards and then downwards. Put both on one tee, bring the "
        "pressure to full scale once and back, then stop at the marks from below, and on the way down from above; tap "
        "the glass lightly before each reading, look straight at the needle, and wait until the reference rests. A "
        "gauge that was overloaded reads high everywhere and does not return to zero; a worn movement sticks, which "
        "the way down shows; a needle that has slipped is off by the same pressure at every mark."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "Raise the pressure slowly, with the face of the gauge turned away; oxygen gauges take clean dry gas alone, no "
        "oil, no grease and no dead-weight tester filled with oil.",
        "Vent before you loosen the tee; search the gauge for leaks afterwards.",
    ),
    readings=(
        reading("full_scale", "Full scale of the gauge", Dimension.PRESSURE, stated=True, judges=_ALL),
        reading("division", "Division of the dial", Dimension.PRESSURE, required=False, stated=True, judges=_ALL,
                help="the needle is read to a quarter of it"),
        reading("zero_after", "Gauge at zero afterwards", Dimension.PRESSURE, required=False, asked=True, stated=True,
                judges=("zero_after",), help="vented, after the last reading"),
    ),
    tables=(
        _table(RISING, "Rising pressure", ("worst_error", "hysteresis"), 1, "from a low mark to full scale, each mark "
               "reached from below"),
        _table(FALLING, "Falling pressure", _ALL[:2], 0, "back from full scale, at the same marks"),
    ),
    choices=(
        ChoiceSpec("accuracy_class", "Accuracy class", tuple((code, f"class {code}") for code in CLASSES), "2.5"),
    ),
    rated=(),
    results=(
        ResultSpec("worst_error", "Error of the gauge", Dimension.FRACTION, "%",
                   "(gauge - reference) / full scale; gravest of all rows", _APART, needed=True, own_limit=True),
        ResultSpec("hysteresis", "Hysteresis", Dimension.FRACTION, "%",
                   "largest difference between falling and rising at one pressure, of full scale", _BACK, needed=True,
                   own_limit=True),
        ResultSpec("zero_after", "Zero afterwards", Dimension.FRACTION, "%", "gauge at ambient pressure, of full scale",
                   _BACK_TO_ZERO, needed=True, own_limit=True),
    ),
    default_limits=(),
    source="EN 837-1 (accuracy classes, from memory)",
    evaluate=evaluate_gauge,
    pairs=(
        NeverCrosses(RISING, RISING, "reference", "shown", "A gauge shows more when its pressure is higher."),
        NeverCrosses(FALLING, FALLING, "reference", "shown", "A gauge shows more when its pressure is higher."),
    ),
)  # fmt: skip
