"""Questions about inspections and findings, as QuerySet methods that read as English."""

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models import Case, Exists, F, OuterRef, Q, Subquery, When, Window
from django.db.models.functions import RowNumber, TruncDate

from fleet.journal.querysets import JournaledQuerySet
from fleet.querysets import SiteScopedQuerySet

OPEN_STAGES = ("planned", "booked", "on bench")
SIGNED_STAGES = ("signed", "countersigned")


class InspectionQuerySet(SiteScopedQuerySet):
    site_path = "machine__area__site"

    def open(self):
        """Planned, booked or in progress: work that is still to be done."""
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

    def coming(self, today, days):
        """Open, due within `days` from today and not overdue."""
        return self.due_by(today + timedelta(days=days)).exclude(closes_on__lt=today)

    def planned(self):
        """Open and on nobody's list yet."""
        return self.filter(stage="planned")

    def booked(self):
        return self.filter(stage="booked")

    def on_bench(self):
        return self.filter(stage="on bench")

    def void(self):
        return self.filter(stage="void")

    def not_begun(self):
        """Planned or booked: what can still be booked, moved or put on a bench."""
        return self.filter(stage__in=("planned", "booked"))

    def booked_between(self, first, last):
        """Booked for a day from `first` to `last`, both included."""
        return self.filter(booked_on__range=(first, last))

    def retesting(self):
        """Open inspections that repeat what failed."""
        return self.open().filter(Exists(self.model.retests.through.objects.filter(inspection=OuterRef("pk"))))

    def not_signed_by(self, person):
        return self.exclude(signed_by=person)

    def found_by(self, text):
        """Keep what is on a machine whose asset number, serial, model or place contains `text`."""
        words = Q()
        for path in ("asset_number", "serial", "model__name", "model__maker", "area__name", "area__site__name"):
            words |= Q(**{f"machine__{path}__icontains": text})
        return self.filter(words)

    def signed_between(self, first, last, time_zones):
        """Keep what was signed from day `first` to day `last` at the machine's site, whose zone is in `time_zones`."""
        within, starts = Q(pk__in=[]), []
        for name in time_zones:
            start, end = (datetime.combine(day, time(), ZoneInfo(name)) for day in (first, last + timedelta(days=1)))
            within |= Q(machine__area__site__time_zone=name, signed_at__gte=start, signed_at__lt=end)
            starts.append(start)
        signed = self.signed().filter(within)
        return signed.filter(signed_at__gte=min(starts)) if starts else signed

    def with_signed_on(self, time_zones):
        """Annotate `signed_on`, the date of the signature at the machine's site, whose zone is among `time_zones`."""
        site_zone = "machine__area__site__time_zone"
        cases = [When(**{site_zone: name}, then=TruncDate("signed_at", tzinfo=ZoneInfo(name))) for name in time_zones]
        return self.annotate(signed_on=Case(*cases, default=None, output_field=models.DateField()))

    def for_technician(self, person):
        return self.filter(technician=person)

    def with_place(self):
        return self.select_related("machine__model", "machine__area__site", "procedure", "technician")

    def in_order_of_work(self):
        return self.order_by(F("booked_on").asc(nulls_last=True), "due_on", "pk")


class InspectionStepQuerySet(SiteScopedQuerySet):
    site_path = "inspection__machine__area__site"

    def that_apply(self):
        return self.filter(applies=True)

    def with_machine(self):
        return self.select_related(
            "component", "inspection__machine__model", "inspection__machine__area__site", "inspection__procedure"
        )

    def last_time(self, step):
        """The same test on the same subject of the same machine in other signed inspections, the latest first."""
        same = self.filter(test_code=step.test_code, subject=step.subject, not_tested_reason="", applies=True)
        of_machine = same.filter(inspection__machine=step.inspection.machine_id, inspection__stage__in=SIGNED_STAGES)
        return of_machine.exclude(inspection=step.inspection_id).order_by("-inspection__signed_at", "position")


class ReadingQuerySet(models.QuerySet):
    def current(self):
        """The current readings; corrected ones stay in the table but do not count."""
        return self.filter(superseded_at=None)

    def contested(self):
        """Saved beside a current reading, until somebody chooses between the two."""
        return self.filter(contests__isnull=False, settled_at=None)

    def that_matter(self):
        """The current readings and those contested beside them."""
        return self.filter(Q(superseded_at=None) | Q(contests__isnull=False, settled_at=None))


class OutcomeQuerySet(SiteScopedQuerySet):
    site_path = "step__inspection__machine__area__site"

    def failed(self):
        return self.filter(decision__in=("fail", "conditional fail"))

    def of_machine(self, machine):
        return self.filter(step__inspection__machine=machine)

    def latest_first(self):
        return self.order_by("-step__inspection__signed_at", "step__position", "pk")

    def recent_of_each(self, machine, count):
        """The last `count` signed outcomes of each result of a machine, the newest first; `rank` 1 is the latest.

        A result is identified by test, subject, the item that a step checks, and key.
        """
        rank = Window(
            RowNumber(),
            partition_by=[F("step__test_code"), F("step__subject"), F("step__content__item"), F("key")],
            order_by=[F("step__inspection__signed_at").desc(), F("pk").desc()],
        )
        signed = self.of_machine(machine).filter(step__inspection__stage__in=SIGNED_STAGES)
        return signed.annotate(rank=rank).filter(rank__lte=count)

    def before(self, inspection):
        """Outcomes of the same machine signed before `inspection` was, or at all if it is not signed."""
        earlier = self.of_machine(inspection.machine_id).exclude(step__inspection=inspection)
        return earlier.filter(step__inspection__signed_at__lt=inspection.signed_at) if inspection.signed_at else earlier


class FindingQuerySet(SiteScopedQuerySet):
    site_path = "machine__area__site"

    def open(self):
        return self.filter(closed_at=None)

    def closed(self):
        return self.exclude(closed_at=None)

    def essential(self):
        return self.filter(severity="essential")

    def with_place(self):
        return self.select_related("machine__model", "machine__area__site", "outcome__step__inspection")

    def found_by(self, text):
        """Keep the findings whose title, description or machine contains `text`."""
        words = Q()
        for path in ("title", "description", "machine__asset_number", "machine__serial", "machine__model__name"):
            words |= Q(**{f"{path}__icontains": text})
        return self.filter(words)

    def of_circuit(self):
        """What a circuit and the record of its machine disagree about; not a fault of the machine."""
        return self.filter(origin="circuit")

    def of_faults(self):
        """Failed outcomes and fault reports."""
        return self.exclude(origin="circuit")

    def opened_before(self, moment):
        return self.filter(opened_at__lt=moment)

    def awaiting_withdrawal(self):
        """Essential, open, and the machine is still in service: somebody must decide."""
        return self.open().essential().filter(machine__duty="in service")

    def opened_since(self, moment):
        return self.filter(opened_at__gte=moment)


class LimitOverrideQuerySet(JournaledQuerySet):
    def visible_to(self, person):
        """The limits of machine models, and those of the sites that `person` may see."""
        return self.filter(Q(site=None) | Q(site__in=person.site_ids)) if person.site_ids else self

    def changeable_by(self, person):
        """Somebody narrowed to sites changes the limits of those; a machine model's limit reaches every site."""
        return self.filter(site__in=person.site_ids) if person.site_ids else self

    def with_target(self):
        return self.select_related("machine_model", "site", "by")

    def not_ended(self, day):
        """In force on `day` or to come."""
        return self.filter(Q(until_date=None) | Q(until_date__gt=day))

    def in_force(self, day):
        """In force on `day`. One that was kept from earlier days without a source is not applied."""
        return self.filter(Q(until_date=None) | Q(until_date__gt=day), from_date__lte=day, without_source=False)

    def for_machine(self, machine):
        """The overrides that reach a machine: those of its model and those of its site."""
        return self.filter(Q(machine_model=machine.model_id) | Q(site=machine.area.site_id))


class ProposalQuerySet(JournaledQuerySet):
    def visible_to(self, person):
        """Those of the sites that `person` may see; a limit of a machine model is only for who sees every site."""
        return self.filter(site__in=person.site_ids) if person.site_ids else self

    def waiting(self):
        return self.filter(state="waiting")

    def confirmable_by(self, person):
        """Waiting for a person like this one, who may do it and did not propose it."""
        acts = [act for act, permission in self.model.PERMISSIONS.items() if person.has_perm(permission)]
        return self.visible_to(person).waiting().filter(act__in=acts).exclude(proposed_by=person)


class ProcedureQuerySet(JournaledQuerySet):
    def recurring(self):
        """Done at an interval, the longest first."""
        return self.filter(interval_months__isnull=False).order_by("-interval_months", "code")

    def with_newest_version(self):
        """Annotate `newest_number` and `newest_loaded_at` of the newest version."""
        from inspections.models import ProcedureVersion

        newest = ProcedureVersion.objects.filter(procedure=OuterRef("pk")).order_by("-number")
        return self.annotate(
            newest_number=Subquery(newest.values("number")[:1]),
            newest_loaded_at=Subquery(newest.values("loaded_at")[:1]),
        )


def machines_with_next_due(machines):
    """Annotate machines with `next_due_on`, `next_closes_on` and `next_due_id` of their earliest open inspection."""
    from inspections.models import Inspection

    upcoming = Inspection.objects.open().filter(machine=OuterRef("pk")).order_by("due_on", "pk")
    return machines.annotate(
        next_due_on=Subquery(upcoming.values("due_on")[:1]),
        next_closes_on=Subquery(upcoming.values("closes_on")[:1]),
        next_due_id=Subquery(upcoming.values("pk")[:1]),
    )


def machines_without_open(machines, procedure):
    """Keep the machines without an open inspection of `procedure`; annotate when the last was.

    last_signed_at   moment of the last one signed here
    last_earlier_on  date of the last one recorded elsewhere that counts as this procedure
    """
    from fleet.models import EarlierInspection
    from inspections.models import Inspection

    elsewhere = EarlierInspection.objects.filter(machine=OuterRef("pk"), counts_as=procedure.code).order_by("-done_on")

    of_machine = Inspection.objects.filter(machine=OuterRef("pk"), procedure=procedure)
    last = of_machine.signed().order_by("-signed_at").values("signed_at")[:1]
    return machines.filter(~Exists(of_machine.open())).annotate(
        last_signed_at=Subquery(last), last_earlier_on=Subquery(elsewhere.values("done_on")[:1])
    )


def due_window(due_on, window_days):
    """The first and the last day on which an inspection due on `due_on` counts as on time."""
    return due_on - timedelta(days=window_days), due_on + timedelta(days=window_days)
