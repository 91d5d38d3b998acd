"""The sentences of Home about safety notices, with what is left of their time, and about serious incidents."""

from django.urls import reverse

from config.home.items import listed
from fleet.days import day_of_year
from inspections.models import SafetyNotice, SeriousIncident


def notices_item(person, today):
    """Return the open notices, those whose day comes first at the front."""
    return listed(
        SafetyNotice.objects.visible_to(person).open().first_due().with_counts(person),
        "safety notice is open",
        "safety notices are open",
        lambda one: (f"{one.reference}, {one.items_open} open of {one.items_seen}, {_due(one, today)}",
                     one.get_absolute_url()),
        url=reverse("inspections:notices", query={"state": "open"}),
        urgent=True,
    )  # fmt: skip


def incidents_item(person):
    return listed(
        SeriousIncident.objects.visible_to(person).open().select_related("machine").defer("content"),
        "serious incident is open",
        "serious incidents are open",
        lambda one: (str(one.machine), one.get_absolute_url()),
        url=reverse("inspections:incidents"),
        urgent=True,
    )


def _due(notice, today):
    if notice.answer_by is None:
        return "no day given"
    return f"overdue since {day_of_year(notice.answer_by)}" if notice.answer_by < today else (
        f"to be done by {day_of_year(notice.answer_by)}"
    )  # fmt: skip
