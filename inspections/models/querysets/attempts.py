"""Questions about attempts, and about what was attempted several times."""

from django.apps import apps
from django.db.models import Count, OuterRef, Subquery
from django.db.models.functions import Coalesce

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
    """Keep the machines with several attempts at their open inspections, with aliases to sort and narrow them by.

    attempts                       number of attempts at open inspections
    waiting_since                  last day of the due window of the earliest open inspection that was attempted
    last_kind, last_on, last_until of the latest attempt
    """
    at_open = apps.get_model("inspections", "Attempt").objects.at_open().order_by()
    several = at_open.values("inspection__machine").annotate(number=Count("pk")).filter(number__gte=SEVERAL)
    latest = _latest()
    return machines.filter(pk__in=several.values("inspection__machine")).alias(
        attempts=_number(), waiting_since=_waiting_since(), last_kind=Subquery(latest.values("kind")[:1]),
        last_on=Subquery(latest.values("made_on")[:1]), last_until=Subquery(latest.values("until")[:1]),
    )  # fmt: skip


def with_attempts(machines):
    """Annotate the same machines with what their list shows.

    not_located     how many of the attempts could not locate the machine
    last_kind, last_on, last_reason, last_decided_by, last_until, last_inspection   of the latest attempt
    """
    latest = _latest()
    columns = {"on": "made_on"} | {name: name for name in ("kind", "reason", "decided_by", "until", "inspection")}
    return machines.annotate(
        attempts=_number(), not_located=_number(kind="not located"), waiting_since=_waiting_since(),
        **{f"last_{name}": Subquery(latest.values(column)[:1]) for name, column in columns.items()},
    )  # fmt: skip


def _latest():
    return apps.get_model("inspections", "Attempt").objects.at_open().of_machine(OuterRef("pk")).latest_first()


def _number(**kind):
    counted = _latest().filter(**kind).order_by().values("inspection__machine").annotate(number=Count("pk"))
    return Coalesce(Subquery(counted.values("number")), 0)


def _waiting_since():
    attempted = apps.get_model("inspections", "Inspection").objects.open()
    attempted = attempted.filter(machine=OuterRef("pk"), attempts__isnull=False)
    return Subquery(attempted.order_by("closes_on").values("closes_on")[:1])
