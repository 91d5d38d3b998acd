"""Results and curves as pages show them: words, and pictures by the one drawing path."""

from dataclasses import dataclass, replace

from fleet.drawing import number
from fleet.place_format import current, shown_unit
from fleet.web.inline_svg import inline_svg
from inspections.bench import Curve, Decision, Result, from_si, interval_from_si, to_si
from inspections.bench.decision_words import limit_confirmed, result_words, worst_words
from inspections.bench.quantities import si_factor
from inspections.drawing import curve_svg, limit_bar_svg, limit_texts, margin_figure, side_words, value_text

BASES = {
    "seen": "",
    "from memory": "source quoted from memory",
    "common practice, no source": "common practice, no source",
    "local": "set locally",
}
FAILED = (Decision.FAIL, Decision.CONDITIONAL_FAIL)
FAILED_WORDS = tuple(str(decision) for decision in FAILED)
NOT_PROVED = (Decision.NOT_TESTED, Decision.NOT_DECIDED, Decision.CONDITIONAL_PASS)


@dataclass(frozen=True, slots=True)
class ShownResult:
    """One result in words. `key` distinguishes equal pictures of a page."""

    result: Result
    key: str = ""
    width: int = 420
    text: float = 13

    @property
    def decision(self):
        """“pass”, or “pass, limit not confirmed”."""
        return result_words(self.result)

    @property
    def is_failed(self):
        return self.result.decision in FAILED

    @property
    def reason(self):
        """“not tested: not challenged”, or why a value is only reported; empty for what is judged."""
        if not self.result.reason:
            return ""
        return f"{self.result.reason}. {self.result.why}".strip()

    @property
    def value(self):
        return value_text(self.result).partition(" ±")[0] if self.has_uncertainty else value_text(self.result)

    @property
    def has_uncertainty(self):
        return " ± " in value_text(self.result)

    @property
    def uncertainty(self):
        """“± 0.42 psi”, empty where none is stated."""
        return f"± {value_text(self.result).partition(' ± ')[2]}" if self.has_uncertainty else ""

    @property
    def coverage(self):
        """“k = 2”, empty where no uncertainty is stated."""
        return f"k = {number(self.result.coverage_factor)}" if self.has_uncertainty else ""

    @property
    def full_uncertainty(self):
        """“± 0.42 psi (k = 2)”, empty where none is stated."""
        return f"{self.uncertainty} ({self.coverage})" if self.has_uncertainty else ""

    @property
    def full_value(self):
        return value_text(self.result)

    @property
    def limit(self):
        return " and ".join(limit_texts(self.result))

    @property
    def margin(self):
        """“2.3 psi inside”, empty without a limit and for yes and no."""
        if self.result.margin_si is None or self.result.unit == "yes/no":
            return ""
        return f"{margin_figure(self.result)} {self.result.unit} {side_words(self.result)}"

    @property
    def probability(self):
        """Of conformity, in per cent; never shown as certain."""
        share = self.result.probability
        if share is None or self.result.unit == "yes/no":
            return ""
        if share > 0.999:
            return f"above {number(99.9)} %"
        return f"below {number(0.1)} %" if share < 0.001 else f"{number(100 * share, 1)} %"

    @property
    def basis(self):
        return BASES[self.result.limit.basis] if self.result.limit else ""

    @property
    def confirmation(self):
        """Who confirmed the limit, by which edition and when, or that nobody did; empty where it is not stated."""
        limit = self.result.limit
        if limit is None or not limit.confirmation:
            return ""
        return (
            f"Limit confirmed: {limit.confirmation}" if limit.is_confirmed else "Nobody has confirmed this limit here"
        )

    @property
    def bar(self):
        """The limit bar as inline SVG; the drawing escapes its texts."""
        return inline_svg(limit_bar_svg(self.result, width=self.width, text=self.text, key=self.key))


@dataclass(frozen=True, slots=True)
class ShownCurve:
    curve: Curve
    key: str = ""
    width: int = 640
    text: float = 13

    @property
    def svg(self):
        size = {"width": self.width, "height": self.width * (1 if self.text > 13 else 0.5), "text": self.text}
        return inline_svg(curve_svg(self.curve, **size, key=self.key))


def in_unit_of_place(result):
    """Return the result with its limit in the unit that the place shown now prefers; the SI values stay.

    A unit that was chosen for the inspection stays, and the limit keeps its own beside it.
    """
    unit = shown_unit(result.unit, current())
    if unit == result.unit or result.unit_chosen:
        return result
    return replace(result, unit=unit, limit=result.limit and replace(result.limit, unit=unit))


def curve_in_units_of_place(curve):
    """Return the curve with each axis in the unit that the place shown now prefers, or as chosen for the inspection."""
    if curve.units_chosen:
        return curve
    x, y = _Axis.of(curve.x_unit), _Axis.of(curve.y_unit)
    if x.unit == curve.x_unit and y.unit == curve.y_unit:
        return curve
    series = [replace(one, points=tuple((x.value(a), y.value(b)) for a, b in one.points)) for one in curve.series]
    marks = [(x if mark.axis == "x" else y).mark(mark) for mark in curve.marks]
    return replace(curve, x_unit=x.unit, y_unit=y.unit, series=tuple(series), marks=tuple(marks))


@dataclass(frozen=True, slots=True)
class _Axis:
    """An axis of a curve in another unit: shown = given x slope + offset."""

    unit: str
    slope: float = 1.0
    offset: float = 0.0

    @classmethod
    def of(cls, symbol):
        unit = shown_unit(symbol, current())
        if unit == symbol:
            return cls(symbol)
        start = from_si(to_si(0.0, symbol), unit)
        return cls(unit, interval_from_si(si_factor(symbol), unit), start)

    def value(self, given):
        return given * self.slope + self.offset

    def mark(self, mark):
        spread = None if mark.spread is None else mark.spread * self.slope
        return replace(mark, value=self.value(mark.value), spread=spread)


def shown_results(evaluation, key="", width=420, text=13):
    results = (in_unit_of_place(result) for result in evaluation.results)
    return [ShownResult(result, f"{key}-{result.key}", width, text) for result in results]


def shown_curves(evaluation, key="", width=640, text=13):
    """The curves that have a point to show."""
    drawn = [curve for curve in evaluation.curves if any(series.points for series in curve.series)]
    curves = [curve_in_units_of_place(curve) for curve in drawn]
    return [ShownCurve(curve, f"{key}-{curve.key}", width, text) for curve in curves]


def step_words(results):
    """The decision of a step in words: a failure first, then what was left open, then the mildest pass."""
    return worst_words((str(one.decision), limit_confirmed(one)) for one in results if one.decision)
