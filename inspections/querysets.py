"""Questions about inspections and findings, as QuerySet methods that read as English."""

from datetime import timedelta

from django.db import models
from django.db.models import Exists, F, OuterRef, Q, Subquery

from fleet.querysets import SiteScopedQuerySet

OPEN_STAGES = ("planned", "booked", "on bench")
SIGNED_STAGES = ("signed", "countersigned")


class InspectionQuerySet(SiteScopedQuerySet):
    site_path = "machine__area__site"

    def open(self):
        """Planned, booked or on the bench: work that is still to be done."""
        return self.filter(stage__in=OPEN_STAGES)

    def signed(self):
        return self.filter(stage__in=SIGNED_STAGES)

    def awaiting_countersignature(self):
        return self.filter(stage="signed")

    def overdue(self, today):
        """Open after the last day of the due window; `today` is a date."""
        return self.open().filter(closes_on__lt=today)

    def due_by(self, day):
        """Open with a due date up to `day`."""
        return self.open().filter(due_on__lte=day)

    def for_technician(self, person):
        return self.filter(technician=person)

    def with_place(self):
        return self.select_related("machine__model", "machine__area__site", "procedure", "technician")

    def in_order_of_work(self):
        return self.order_by(F("booked_on").asc(nulls_last=True), "due_on", "pk")


class InspectionStepQuerySet(models.QuerySet):
    def that_apply(self):
        return self.filter(applies=True)


class ReadingQuerySet(models.QuerySet):
    def current(self):
        """The readings that stand; corrected ones stay in the table but do not count."""
        return self.filter(superseded_at=None)


class OutcomeQuerySet(SiteScopedQuerySet):
    site_path = "step__inspection__machine__area__site"

    def failed(self):
        return self.filter(decision__in=("fail", "conditional fail"))

    def of_machine(self, machine):
        return self.filter(step__inspection__machine=machine)

    def latest_first(self):
        return self.order_by("-step__inspection__signed_at", "step__position", "pk")

    def before(self, inspection):
        """Outcomes of the same machine signed before `inspection` was, or at all if it is not signed."""
        earlier = self.of_machine(inspection.machine_id).exclude(step__inspection=inspection)
        return earlier.filter(step__inspection__signed_at__lt=inspection.signed_at) if inspection.signed_at else earlier


class FindingQuerySet(SiteScopedQuerySet):
    site_path = "machine__area__site"

    def open(self):
        return self.filter(closed_at=None)

    def essential(self):
        return self.filter(severity="essential")

    def awaiting_withdrawal(self):
        """Essential, open, and the machine is still in service: somebody must decide."""
        return self.open().essential().filter(machine__duty="in service")

    def opened_since(self, moment):
        return self.filter(opened_at__gte=moment)


class LimitOverrideQuerySet(models.QuerySet):
    def in_force(self, day):
        return self.filter(Q(until_date=None) | Q(until_date__gt=day), from_date__lte=day)

    def for_machine(self, machine):
        """The overrides that reach a machine: those of its model and those of its site."""
        return self.filter(Q(machine_model=machine.model_id) | Q(site=machine.area.site_id))


def machines_with_next_due(machines):
    """Annotate machines with `next_due_on` and `next_due_id` of their earliest open scheduled inspection."""
    from inspections.models import Inspection

    upcoming = Inspection.objects.open().filter(machine=OuterRef("pk")).order_by("due_on", "pk")
    return machines.annotate(
        next_due_on=Subquery(upcoming.values("due_on")[:1]), next_due_id=Subquery(upcoming.values("pk")[:1])
    )


def machines_without_open(machines, procedure):
    """Keep the machines without an open inspection of `procedure`, annotated with the moment `last_signed_at` of the last."""
    from inspections.models import Inspection

    of_machine = Inspection.objects.filter(machine=OuterRef("pk"), procedure=procedure)
    last = of_machine.signed().order_by("-signed_at").values("signed_at")[:1]
    return machines.filter(~Exists(of_machine.open())).annotate(last_signed_at=Subquery(last))


def due_window(due_on, window_days):
    """The first and the last day on which an inspection due on `due_on` counts as on time."""
    return due_on - timedelta(days=window_days), due_on + timedelta(days=window_days)
