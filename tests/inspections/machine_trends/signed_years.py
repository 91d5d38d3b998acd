"""Signed inspections of a machine, one a year, written directly into the tables."""

from datetime import timedelta

from fleet.models import Area
from tests.factories import NOON, bench_result, make_machine, make_signed_inspection

FALLING = (25.2, 24.6, 24.3, 23.5, 23.1)  # psi: the worked vector of inspections/trends
GAS = {"subject": "nitrous-oxide"}


def years_ago(years):
    return NOON - timedelta(days=round(365.25 * years))


def sign_year(machine, by, value, years, *, lower=20.0, key="trip_pressure", unit="psi", **step):
    """Sign one inspection with one result, `years` before NOON; it fails below `lower`."""
    result = bench_result(value, decision="pass" if value >= lower else "fail", lower=lower, key=key, unit=unit)
    return make_signed_inspection(machine, by=by, at=years_ago(years), steps=[{**GAS, "results": [result], **step}])


def sign_years(machine, by, values=FALLING, **how):
    """Sign yearly inspections, the last one at NOON."""
    return [sign_year(machine, by, value, len(values) - 1 - number, **how) for number, value in enumerate(values)]


def make_fleet(by, *, count=4, area=None):
    """Return machines of one model in one area, whose trip pressures fall slowly and unlike each other."""
    first = make_machine(area=area)
    others = [make_machine(area=Area.objects.get(pk=first.area_id), model=first.model) for _ in range(count - 1)]
    for number, machine in enumerate((first, *others)):
        wobble = (0.1, -0.1, 0.15, -0.05, 0.0)
        values = [26 + 0.3 * number - 0.4 * year + wobble[(year + number) % 5] for year in range(5)]
        sign_years(machine, by, values)
    return [first, *others]
