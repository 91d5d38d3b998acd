"""The last results of a machine, result by result, with what came before."""

from dataclasses import dataclass

from django.utils import timezone

from fleet.place_format import current, shown_unit
from fleet.web.inline_svg import inline_svg
from inspections.bench import from_si, interval_from_si
from inspections.bench.decision_words import gravity
from inspections.drawing import TrendPoint, trend_svg
from inspections.machine_trends.shown_forecast import ShownForecast
from inspections.models import Result, TrendForecast

REMEMBERED = 5
SHOWN = 80
DRAWN = 4


@dataclass(frozen=True, slots=True)
class ResultHistory:
    """One result of a machine: its latest value, the earlier ones, the newest first, and where its trend leads."""

    latest: Result
    earlier: tuple[Result, ...]
    forecast: ShownForecast | None = None

    @property
    def title(self):
        return f"{self.latest.step}: {self.latest.label.lower()}"

    @property
    def has_trend(self):
        """Whether at least three figures were measured, so that a line says something."""
        return len(self.earlier) >= 2 and self.latest.unit != "yes/no" and self.latest.value is not None

    @property
    def trend(self):
        """The results over time with the latest limits, as inline SVG."""
        latest, ends = self.latest, {}
        unit = shown_unit(latest.unit, current())
        for name, end in (("lower", latest.limit_lower), ("upper", latest.limit_upper)):
            ends[name] = None if end is None else from_si(end, unit)
        in_order = reversed((latest, *self.earlier))  # as found before as left, where both are of one day
        points = [_point(result, unit) for result in in_order if result.value is not None]
        ends["forecast"] = self.forecast and self.forecast.line(points[-1].on)
        picture = trend_svg(points, title=latest.label, unit=unit, key=f"t{latest.pk}", width=420, height=170, **ends)
        return inline_svg(picture)

    @property
    def was_repaired(self):
        """Whether some of the values are as found and as left, so that the line steps where it was repaired."""
        return any(result.step.state for result in (self.latest, *self.earlier))

    @property
    def is_stale(self):
        """Whether the forecast was made before the latest result."""
        return self.forecast is not None and self.forecast.forecast.latest_id != self.latest.pk

    @property
    def chance(self):
        """The chance of being outside a limit when next due, 0 where it is not known; see TrendForecast."""
        return (self.forecast and self.forecast.forecast.chance) or 0.0

    @property
    def pressing(self):
        """Sorts the results that need a look first: by decision, then by probability of conformity."""
        probability = 1.0 if self.latest.probability is None else self.latest.probability
        return (gravity(self.latest.decision), probability, self.title)


def _point(result, unit):
    expanded = interval_from_si(result.expanded_uncertainty or 0, unit)
    day = timezone.localtime(result.step.inspection.signed_at).date()
    return TrendPoint(day, from_si(result.value, unit), expanded)


def machine_results(machine):
    """Return the results of a machine, the most pressing first, at most SHOWN; two queries."""
    results = Result.objects.recent_of_each(machine, REMEMBERED).select_related("step__inspection")
    by_result = {}
    for result in results.order_by("rank")[: SHOWN * REMEMBERED]:
        by_result.setdefault((result.step.what, result.key), []).append(result)
    forecasts = _forecasts(machine)
    histories = [
        ResultHistory(found[0], tuple(found[1:]), forecasts.get(_foretold(found[0]))) for found in by_result.values()
    ]
    return sorted(histories, key=lambda history: history.pressing)[:SHOWN]


def _forecasts(machine):
    """Map what a figure is of (see `_foretold`) to its forecast."""
    rows = TrendForecast.objects.filter(machine=machine).select_related("latest__step")[:SHOWN]
    return {(one.test_code, one.subject, one.key): ShownForecast(one) for one in rows}


def _foretold(result):
    """What a trend is of. Items that are looked at have none: they are no figures."""
    return result.step.test_code, result.step.subject, result.key


def drawn_trends(histories):
    """The results whose trend is worth a drawing: judged figures with a history, the likeliest to be outside first."""
    drawn = [history for history in histories if history.has_trend and history.latest.decision]
    return sorted(drawn, key=lambda history: -history.chance)[:DRAWN]
