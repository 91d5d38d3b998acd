"""The sentence of Home about fault reports that wait for triage, with their age."""

from django.urls import reverse

from config.home.items import listed
from inspections.models import FaultReport
from inspections.tables.fault_reports import age_words


def untriaged_item(person, now):
    """Return the Item: its number is that of the list that it links to; the oldest come first."""
    waiting = FaultReport.objects.visible_to(person).waiting().order_by("reported_at", "pk")
    return listed(
        waiting,
        "fault report from a machine's label needs triage",
        "fault reports from machines' labels need triage",
        lambda one: (f"{one.number}, {one.machine}, waiting {age_words(one.reported_at, now)}", one.get_absolute_url()),
        related=("machine",),
        url=reverse("inspections:fault_reports", query={"view": "waiting"}),
        label="Triage",
        urgent=True,
    )
