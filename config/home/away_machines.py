"""The sentence of Home about machines that should be back."""

from django.urls import reverse

from config.home.items import listed
from fleet.days import day_of_year
from fleet.models import AwayPeriod


def away_overdue_item(person, today):
    """Return the machines that are away beyond the day on which they were expected, the longest overdue first."""
    rows = AwayPeriod.objects.visible_to(person).overdue(today).order_by("expected_on", "pk")
    return listed(
        rows,
        "machine that is lent or at a repair should be back",
        "machines that are lent or at a repair should be back",
        lambda one: (
            f"{one.machine}, {one.to_whom}, expected {day_of_year(one.expected_on)}", one.machine.get_absolute_url()
        ),
        related=("machine",),
        url=reverse("fleet:away_machines", query={"view": "overdue"}),
        urgent=True,
    )  # fmt: skip
