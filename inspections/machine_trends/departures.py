"""Whether a result of a step departs from the trend of its machine: a question before the signature, no decision."""

from dataclasses import dataclass

from fleet.drawing import number
from fleet.models.querysets.prepared_queries import prepared
from fleet.place_format import NEUTRAL, using
from inspections.at_bench.evaluation import Evaluator
from inspections.bench import from_si
from inspections.bench.results import Result
from inspections.machine_trends.forecasting import FEWEST
from inspections.machine_trends.signed_series import years_of
from inspections.models import TrendForecast
from inspections.trends import predicted

SURPRISING = 0.01
"""Chance of a result so far out or farther, below which it is asked about; common practice, no source. The rate on
results that came is printed by tests/benchmarks/bench_trends.py."""
HOLDS = 1 - SURPRISING


@dataclass(frozen=True, slots=True)
class Departure:
    """A result outside of what the trend of its machine lets expect, and how likely one so far out was."""

    result: Result
    forecast: TrendForecast
    lower_si: float
    upper_si: float
    chance: float

    @property
    def asked(self):
        """The question, in the unit of the result and neutral figures."""
        unit = self.result.unit
        low, value, high = (from_si(one, unit) for one in (self.lower_si, self.result.value_si, self.upper_si))
        figures = f"{number(value)} {unit} departs from the trend of this machine"
        expected = f"{number(low)} to {number(high)} {unit} was expected ({number(100 * HOLDS)} %)"
        return (
            f"{self.result.label}: {figures}; {expected} after {self.forecast.results} results. "
            "Are the readings of this step right?"
        )


def departures_in(step, readings, *, at):
    """Return the Departures of the results of a step, the most surprising first; None while nothing can be said.

    readings  the current readings of the step
    at        when they were taken

    Nothing can be said without a trend, of an incomplete step, and after a repair in this inspection: results as left
    are not compared with the time before. Without a trend it costs one query and no evaluation.
    """
    if step.set_number > 1 or step.is_check:
        return None
    rows = _forecasts(step.inspection.machine_id, step.test_code, step.subject)
    forecasts = {one.key: one for one in rows if one.latest.step.component_id in (None, step.component_id)}
    if not forecasts:
        return None
    evaluated = Evaluator(step.inspection).evaluate(step, readings)
    if not evaluated.is_complete:
        return None
    with using(NEUTRAL):
        found = [_compared(one, forecasts[one.key], at) for one in evaluated.evaluation.results if one.key in forecasts]
    return sorted((one for one in found if one and one.chance < SURPRISING), key=lambda one: one.chance)


@prepared
def _forecasts(machine, test_code, subject):
    same = TrendForecast.objects.filter(machine=machine, test_code=test_code, subject=subject)
    return same.filter(results__gte=FEWEST).select_related("latest__step")


def _compared(result, forecast, at):
    if result.value_si is None or result.decision is None or not result.is_measured:
        return None
    ahead = predicted(forecast.fitted, [years_of(at)])
    lower, upper = ahead.interval(HOLDS)
    return Departure(result, forecast, float(lower[0]), float(upper[0]), float(ahead.surprise([result.value_si])[0]))
