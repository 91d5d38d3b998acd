"""How likely each safety feature of a machine is outside its limits on days ahead, if nobody adjusts it."""

from collections import defaultdict

from fleet.late import np
from inspections.at_bench.step_content import features_of
from inspections.machine_trends.signed_series import years_of_noon
from inspections.models import TrendForecast
from inspections.planning.exposure_sums import either
from inspections.trends import fitted_from, predicted

LIMITS = ("limit_lower", "limit_upper")


def chances_outside(machines, days):
    """Return machine key -> feature -> the chance on each day that a result of it is outside its limits; one query.

    machines  keys. Of several results of one feature, one outside is enough; they count as independent.
    """
    rows = TrendForecast.objects.filter(machine__in=machines, chance__isnull=False).select_related("latest__step")
    rows = [(row, features_of(row.latest.step.content)) for row in rows.order_by("pk")]
    rows = [(row, features) for row, features in rows if features]
    if not rows:
        return {}
    fitted = fitted_from([row.terms for row, _ in rows])
    low, high = (np.array([_limit(getattr(row.latest, name)) for row, _ in rows]) for name in LIMITS)
    chances = [predicted(fitted, np.full(len(rows), years_of_noon(day))).outside(low, high) for day in days]
    found = defaultdict(lambda: defaultdict(list))
    for number, (row, features) in enumerate(rows):
        for feature in features:
            found[row.machine_id][feature].append([float(of_day[number]) for of_day in chances])
    return {
        machine: {feature: [either(each) for each in zip(*lines, strict=True)] for feature, lines in by_feature.items()}
        for machine, by_feature in found.items()
    }


def _limit(value):
    return np.nan if value is None else value
