"""Enter and correct sites and areas."""

from django.db import transaction

from fleet.catalogue.oxygen_supply import OxygenGrade, percent_problem
from fleet.catalogue.plausibility import use_problem
from fleet.catalogue.public_holidays import country_problem
from fleet.changes import record_created, recording
from fleet.errors import RegisterRefused
from fleet.models import Area, Site
from fleet.place_format import unit_choice_problem

SITE_FIELDS = (
    "name", "altitude_m", "oxygen_grade", "oxygen_percent",
    "time_zone", "decimal_sign", "date_format", "paper_size", "preferred_units",
    "rule_set", "two_for_release", "two_for_amendment", "two_for_finding", "two_for_limit", "signer_may_release",
    "has_label_page", "fault_phone", "check_list",
    "two_after_repair", "holiday_country", "holiday_subdivision", "needs_competence",
)  # fmt: skip
AREA_FIELDS = ("name", "minimum_machines")


@transaction.atomic
def add_site(*, by, at, **fields):
    """Enter a site. Raise RegisterRefused for an altitude, an oxygen percentage or a unit that is not plausible."""
    _refuse_implausible(fields)
    _refuse_oxygen(fields)
    return _created(Site.objects.create(**fields), by=by, at=at)


@transaction.atomic
def add_area(site, *, by, at, **fields):
    return _created(Area.objects.create(site=site, **fields), by=by, at=at)


def change_site(site, *, by, at, **fields):
    """Change a site's name, altitude, oxygen, time zone, formats, units, rules, decisions by two, or label page.

    Signed records keep the ambient pressure, the formats and the limits they were made with. Raise RegisterRefused for
    an altitude that is not plausible, an oxygen percentage outside its grade, or a unit that does not measure its
    dimension.
    """
    _refuse_implausible(fields)
    if "oxygen_grade" in fields or "oxygen_percent" in fields:
        _refuse_oxygen({"oxygen_grade": site.oxygen_grade, "oxygen_percent": site.oxygen_percent, **fields})
    return _change(site, SITE_FIELDS, fields, by=by, at=at)


def change_area(area, *, by, at, **fields):
    """Change an area's name or its minimum number of machines."""
    return _change(area, AREA_FIELDS, fields, by=by, at=at)


def _refuse_implausible(fields):
    altitude_m = fields.get("altitude_m", 0)
    if problem := use_problem(altitude_m, "altitude"):
        raise RegisterRefused(f"Altitude: {problem.of(f'{altitude_m:g} m')}")
    if problem := unit_choice_problem(fields.get("preferred_units", {})):
        raise RegisterRefused(f"Preferred units: {problem}")
    if problem := country_problem(fields.get("holiday_country", "")):
        raise RegisterRefused(f"Public holidays: {problem}")


def _refuse_oxygen(fields):
    grade = fields.get("oxygen_grade", OxygenGrade.OXYGEN)
    if problem := percent_problem(grade, fields.get("oxygen_percent")):
        raise RegisterRefused(f"Oxygen of the supply: {problem}")


def _created(place, *, by, at):
    record_created([place], by=by, at=at)
    return place


@transaction.atomic
def _change(place, accepted, fields, *, by, at):
    unknown = fields.keys() - set(accepted)
    if unknown:
        raise RegisterRefused(f"{', '.join(sorted(unknown))} cannot be changed. Accepted: {', '.join(accepted)}.")
    with recording(place, by=by, at=at):
        for name, value in fields.items():
            setattr(place, name, value)
        place.save(update_fields=list(fields))
    return place
