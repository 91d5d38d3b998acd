"""Questions about attempts, and about what was attempted several times."""

from django.apps import apps
from django.db.models import Count, OuterRef, Q, Subquery

from fleet.models.querysets.scoped import SiteScopedQuerySet
from inspections.models.querysets.inspections import OPEN_STAGES

SEVERAL = 2


class AttemptQuerySet(SiteScopedQuerySet):
    site_path = "inspection__machine__area__site"

    def latest_first(self):
        return self.order_by("-at", "-pk")

    def at_open(self):
        """At inspections that are still to be done."""
        return self.filter(inspection__stage__in=OPEN_STAGES)

    def of_machine(self, machine):
        return self.filter(inspection__machine=machine)

    def since(self, moment):
        return self.filter(at__gt=moment)


def machines_attempted_several_times(machines):
    """Keep the machines with several attempts at their open inspections; annotate them for the list of these.

    attempts        number of attempts at open inspections
    not_located     how many of them could not locate the machine
    waiting_since   last day of the due window of the earliest open inspection that was attempted
    last_kind, last_on, last_reason, last_decided_by, last_until, last_inspection   of the latest attempt
    """
    at_open = Q(inspections__stage__in=OPEN_STAGES)
    not_located = Q(inspections__attempts__kind="not located")
    latest = apps.get_model("inspections", "Attempt").objects.at_open().of_machine(OuterRef("pk")).latest_first()
    attempted = apps.get_model("inspections", "Inspection").objects.open().filter(
        machine=OuterRef("pk"), attempts__isnull=False
    )  # fmt: skip
    every = apps.get_model("inspections", "Attempt").objects.at_open().order_by()
    counted = machines.filter(pk__in=every.values("inspection__machine")).annotate(
        attempts=Count("inspections__attempts", filter=at_open),
        not_located=Count("inspections__attempts", filter=at_open & not_located),
    )
    return counted.filter(attempts__gte=SEVERAL).annotate(
        waiting_since=Subquery(attempted.order_by("closes_on").values("closes_on")[:1]),
        last_inspection=Subquery(latest.values("inspection")[:1]),
        **{
            f"last_{name}": Subquery(latest.values(field)[:1])
            for name, field in (
                ("kind", "kind"),
                ("on", "made_on"),
                ("reason", "reason"),
                ("decided_by", "decided_by"),
                ("until", "until"),
            )
        },
    )
