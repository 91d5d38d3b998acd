"""Make and store the forecasts of machines from their signed results."""

from collections import defaultdict
from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from fleet.late import np
from inspections.machine_trends.signed_series import day_of_years, histories_of, series_of, years_of, years_of_noon
from inspections.models import Inspection, InspectionStep, Result, TrendForecast
from inspections.models.querysets.inspections import SIGNED_STAGES
from inspections.trends import Advice, outlook, slope_interval, terms_of, trends_of

FEWEST = 3  # signed results of a machine before its trend is foretold
WITHOUT_A_DATE = timedelta(days=365)  # for a machine with nothing planned
NAMED_BY = ("machine", "test_code", "subject", "key")
BATCH = 500
ADVICE = list(Advice)


def make_forecasts(test_code, *, at, machine=None):
    """Store the forecasts of one test, of all machines or of one; return how many. Earlier ones are replaced.

    machine  its forecasts are made from its own results and those of its model
    """
    results = None if machine is None else Result.objects.filter(step__inspection__machine__model=machine.model_id)
    series = series_of(test_code, at=at, results=results)
    forecasts = _forecasts(test_code, series, at) if series else []
    kept = [one for one in forecasts if machine is None or one.machine_id == machine.pk]
    old = TrendForecast.objects.filter(test_code=test_code)
    with transaction.atomic():
        _store(kept)
        (old if machine is None else old.filter(machine=machine)).filter(made_at__lt=at).delete()
    return len(kept)


def _store(forecasts):
    names = [field.name for field in TrendForecast._meta.concrete_fields if not field.primary_key]
    TrendForecast.objects.bulk_create(
        forecasts,
        batch_size=BATCH,
        update_conflicts=True,
        unique_fields=NAMED_BY,
        update_fields=[name for name in names if name not in NAMED_BY],
    )


def _forecasts(test_code, series, at):
    """Return unsaved forecasts of every series with enough results whose kind varies at all."""
    histories = histories_of(series)
    fitted = trends_of(histories)
    do_vary = histories.do_vary()[histories.kind[histories.family]]
    chosen = [number for number, one in enumerate(series) if len(one.results) >= FEWEST and do_vary[number]]
    days = _due_days(series, timezone.localdate(at))
    limits = np.array([[_limit(one.results[-1].lower), _limit(one.results[-1].upper)] for one in series])
    due = np.array([years_of_noon(day) for day in days])
    found = outlook(fitted, due, limits[:, 0], limits[:, 1], now=years_of(at))
    columns = _columns(fitted, found)
    return [
        TrendForecast(
            test_code=test_code,
            due_on=days[number],
            terms=terms_of(fitted, number),
            made_at=at,
            **_of_series(series[number]),
            **{name: values[number] for name, values in columns.items()},
            **_of_limits(series[number], found, number),
        )
        for number in chosen
    ]


def _limit(value):
    return np.nan if value is None else value


def _due_days(series, today):
    """Return for each series the day on which it is measured next: the first due date of a procedure that did so.

    What is overdue is measured today at the earliest.
    """
    planned = defaultdict(dict)
    rows = Inspection.objects.open().filter(machine__in={one.machine for one in series}).order_by("-due_on")
    for machine, procedure, due_on in rows.values_list("machine_id", "procedure_id", "due_on"):
        planned[machine][procedure] = due_on  # the earliest comes last and stays
    found = []
    for one in series:
        measuring = {result.procedure for result in one.results}
        days = [day for procedure, day in planned[one.machine].items() if procedure in measuring]
        days = days or list(planned[one.machine].values()) or [today + WITHOUT_A_DATE]
        found.append(max(min(days), today))
    return found


def _columns(fitted, found):
    """Return the fields of all forecasts that are numbers of the trend, as lists."""
    due, square = found.due, found.due.scale**2
    (lower, upper), (slope_lower, slope_upper) = due.interval(), slope_interval(fitted)
    columns = {
        "results": fitted.results,
        "value": due.value,
        "lower": lower,
        "upper": upper,
        "slope": fitted.slope,
        "slope_lower": slope_lower,
        "slope_upper": slope_upper,
        "drift_share": (due.level_var + due.slope_var) / square,
        "machine_share": due.machine_var / square,
        "measured_share": due.measured_var / square,
    }
    return {name: values.tolist() for name, values in columns.items()}


def _of_series(series):
    latest = series.results[-1]
    return {"machine_id": series.machine, "subject": latest.subject, "key": latest.key, "latest_id": latest.pk}


def _of_limits(series, found, number):
    latest, beyond = series.results[-1], found.beyond[number]
    if latest.lower is None and latest.upper is None:
        return {}
    return {
        "chance": float(found.chance[number]),
        "chance_without_measuring": float(found.without_measuring[number]),
        "beyond_on": None if np.isnan(beyond) else day_of_years(beyond),
        "advice": str(ADVICE[found.advice[number]]),
    }


def measured_tests(machine=None):
    """Return the codes of the tests with signed results, of all machines or of one, in order."""
    steps = InspectionStep.objects.filter(inspection__stage__in=SIGNED_STAGES).exclude(test_code="observation")
    steps = steps if machine is None else steps.filter(inspection__machine=machine)
    return sorted(steps.order_by().values_list("test_code", flat=True).distinct())
