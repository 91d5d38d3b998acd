"""The sentence of Home about intervals by evidence that withdrew themselves."""

from datetime import timedelta

from django.urls import reverse

from config.home.items import listed
from inspections.models import IntervalDossier

DAYS = 30


def withdrawn_intervals_item(now):
    """Return the dossiers that withdrew themselves in the last days: the planned inspections have other dates since."""
    return listed(
        IntervalDossier.objects.withdrawn_since(now - timedelta(days=DAYS)).with_scope(),
        f"interval by evidence withdrew itself in the last {DAYS} days; planned inspections were dated back",
        f"intervals by evidence withdrew themselves in the last {DAYS} days; planned inspections were dated back",
        lambda one: (f"{one.procedure} on {one.scope_words}: {one.ended_reason}", one.get_absolute_url()),
        url=reverse("inspections:interval_dossiers", query={"view": "all"}),
        urgent=True,
    )
