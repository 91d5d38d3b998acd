"""Outcomes and curves as pages show them: words, and pictures by the one drawing path."""

from dataclasses import dataclass

from fleet.drawing import number
from fleet.drawing.numbers import uncertainty_decimals
from fleet.web.inline_svg import inline_svg
from inspections.bench import Curve, Decision, Outcome, interval_from_si
from inspections.drawing import curve_svg, limit_bar_svg, limit_texts, value_text

BASES = {
    "seen": "",
    "from memory": "source quoted from memory",
    "common practice, no source": "common practice, no source",
    "local": "set locally",
}
WORST_FIRST = (Decision.FAIL, Decision.CONDITIONAL_FAIL, Decision.CONDITIONAL_PASS, Decision.PASS)
FAILED = (Decision.FAIL, Decision.CONDITIONAL_FAIL)


@dataclass(frozen=True, slots=True)
class ShownOutcome:
    """One outcome in words. `key` distinguishes equal pictures of a page."""

    outcome: Outcome
    key: str = ""
    width: int = 420

    @property
    def decision(self):
        return str(self.outcome.decision or "")

    @property
    def is_failed(self):
        return self.outcome.decision in FAILED

    @property
    def value(self):
        return value_text(self.outcome).partition(" ±")[0] if self.has_uncertainty else value_text(self.outcome)

    @property
    def has_uncertainty(self):
        return " ± " in value_text(self.outcome)

    @property
    def uncertainty(self):
        """“± 0.42 psi”, empty where none is stated."""
        return f"± {value_text(self.outcome).partition(' ± ')[2]}" if self.has_uncertainty else ""

    @property
    def coverage(self):
        """“k = 2”, empty where no uncertainty is stated."""
        return f"k = {number(self.outcome.coverage_factor)}" if self.has_uncertainty else ""

    @property
    def full_uncertainty(self):
        """“± 0.42 psi (k = 2)”, empty where none is stated."""
        return f"{self.uncertainty} ({self.coverage})" if self.has_uncertainty else ""

    @property
    def full_value(self):
        return value_text(self.outcome)

    @property
    def limit(self):
        return " and ".join(limit_texts(self.outcome))

    @property
    def margin(self):
        """“2.3 psi inside”, empty without a limit and for yes and no."""
        if self.outcome.margin_si is None or self.outcome.unit == "yes/no":
            return ""
        expanded = interval_from_si(self.outcome.expanded_uncertainty_si, self.outcome.unit)
        decimals = uncertainty_decimals(expanded) if expanded > 0 else None
        margin = number(abs(interval_from_si(self.outcome.margin_si, self.outcome.unit)), decimals)
        return f"{margin} {self.outcome.unit} {'inside' if self.outcome.margin_si >= 0 else 'outside'}"

    @property
    def probability(self):
        """Of conformity, in per cent; never shown as certain."""
        share = self.outcome.probability
        if share is None or self.outcome.unit == "yes/no":
            return ""
        if share > 0.999:
            return "above 99.9 %"
        return "below 0.1 %" if share < 0.001 else f"{100 * share:.1f} %"

    @property
    def basis(self):
        return BASES[self.outcome.limit.basis] if self.outcome.limit else ""

    @property
    def bar(self):
        """The limit bar as inline SVG; the drawing escapes its texts."""
        return inline_svg(limit_bar_svg(self.outcome, width=self.width, key=self.key))


@dataclass(frozen=True, slots=True)
class ShownCurve:
    curve: Curve
    key: str = ""
    width: int = 640

    @property
    def svg(self):
        return inline_svg(curve_svg(self.curve, width=self.width, height=self.width // 2, key=self.key))


def shown_outcomes(evaluation, key="", width=420):
    return [ShownOutcome(outcome, f"{key}-{outcome.key}", width) for outcome in evaluation.outcomes]


def shown_curves(evaluation, key="", width=640):
    """The curves that have a point to show."""
    curves = [curve for curve in evaluation.curves if any(series.points for series in curve.series)]
    return [ShownCurve(curve, f"{key}-{curve.key}", width) for curve in curves]


def worst_decision(decisions):
    """The decision that matters most of several, None of none."""
    return next((decision for decision in WORST_FIRST if decision in decisions), None)
