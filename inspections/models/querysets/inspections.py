"""Questions about inspections and their steps, as QuerySet methods that read as English."""

from datetime import datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo

from django.apps import apps
from django.db import models
from django.db.models import Case, Count, Exists, F, OuterRef, Q, Subquery, Value, When, Window
from django.db.models.functions import RowNumber, TruncDate

from fleet.models import EarlierInspection
from fleet.models.querysets.area_periods import area_on, site_on, words_on
from fleet.models.querysets.machines import machines_found, on_found
from fleet.models.querysets.scoped import SiteScopedQuerySet
from inspections.bench.decision_words import JUDGED_WORST_FIRST, WORST_FIRST
from inspections.models.querysets.sets_of_readings import not_judged_again, results_of, that_decides

OPEN_STAGES = ("planned", "booked", "on bench")
SIGNED_STAGES = ("signed", "countersigned")


class InspectionQuerySet(SiteScopedQuerySet):
    site_path = "machine__area__site"

    def open(self):
        """Planned, booked or in progress: work that is still to be done."""
        return self.filter(is_open())

    def signed(self):
        return self.filter(is_signed())

    def with_signature(self):
        """The same rows, as a constraint makes sure, by the index of signatures: for lists by day of all machines."""
        return self.filter(has_signature())

    def incomplete(self):
        """Signed, although nothing was proved by one of the essential steps that apply: as stored at the signature."""
        return self.filter(is_incomplete())

    def complete(self):
        """Signed, with every essential step that applies tested and judged: as stored at the signature."""
        return self.filter(completion__is_complete=True)

    def incomplete_by_steps(self):
        """The definition of `incomplete`, asked of the signed steps and results themselves."""
        return self.signed().filter(_has_essential_untested())

    def with_result(self):
        """Annotate what `result_words` and `stage_label` need, so that a list asks once."""
        return self.annotate(**_result())

    def awaiting_countersignature(self):
        """Signed once; the moment, which a constraint makes sure of, lets the index of these be used."""
        return self.filter(Q(stage="signed") & has_signature())

    def overdue(self, today):
        """Open after the last day of the due window; `today` is a date."""
        return self.filter(is_overdue(today))

    def due_by(self, day):
        """Open with a due date up to `day`."""
        return self.open().filter(due_on__lte=day)

    def coming(self, today, days):
        """Open, due within `days` from today and not overdue."""
        return self.filter(is_coming(today, today + timedelta(days=days)))

    def by_stage(self):
        """Return what is open in parts, one for each stage."""
        return [self.filter(stage=stage) for stage in OPEN_STAGES]

    def planned(self):
        """Open and on nobody's list yet."""
        return self.filter(stage="planned")

    def booked(self):
        return self.filter(stage="booked")

    def in_progress(self):
        return self.filter(stage="on bench")

    def in_progress_first(self):
        """Open work in the order in which a technician takes it up: what was started, then what is due first."""
        return self.order_by(Case(When(stage="on bench", then=0), default=1), "due_on", "pk")

    def void(self):
        return self.filter(stage="void")

    def not_begun(self):
        """Planned or booked: what can still be booked, moved or put on a bench."""
        return self.filter(stage__in=("planned", "booked"))

    def booked_between(self, first, last):
        """Booked for a day from `first` to `last`, both included."""
        return self.filter(booked_on__range=(first, last))

    def to_do_between(self, first, last):
        """Open and booked for a day from `first` to `last`: by the index of days, which a list of stages would hide."""
        return self.booked_between(first, last).exclude(stage__in=(*SIGNED_STAGES, "void")).order_by()

    def to_do_on(self, days):
        """Open and booked for one of the days, by the index of days too."""
        return self.filter(booked_on__in=days).exclude(stage__in=(*SIGNED_STAGES, "void")).order_by()

    def retesting(self):
        """Open inspections that repeat what failed."""
        return self.open().filter(pk__in=self.model.retests.through.objects.values("inspection"))

    def not_signed_by(self, person):
        return self.exclude(signed_by=person)

    def with_area_where_due(self):
        """Annotate the keys `area_then` and `site_then`, where the machine was on the last day of the window."""
        day, machine = OuterRef("closes_on"), "machine"
        return self.annotate(
            area_then=area_on(day, machine, "machine__area"), site_then=site_on(day, machine, "machine__area__site")
        )

    def with_words_where_due(self):
        """Annotate `area_was` and `site_was`, the names that belong to them."""
        day, machine = OuterRef("closes_on"), "machine"
        return self.annotate(
            area_was=words_on(day, machine, "area__name", "machine__area__name"),
            site_was=words_on(day, machine, "area__site__name", "machine__area__site__name"),
        )

    def visible_where_due(self, person):
        """Return the inspections that were due at a site that `person` may see, wherever the machine is now."""
        due = self.with_area_where_due()
        return due.filter(site_then__in=person.site_ids) if person.site_ids else due

    def of_sites(self, sites):
        """Keep what is on machines of these sites, asked of one row after another: for a page in the order of an index.

        sites  keys; empty for every site
        """
        there = apps.get_model("fleet", "Machine").objects.filter(area__site__in=sites, pk=OuterRef("machine"))
        return self.filter(Exists(there.order_by())) if sites else self

    def found_by(self, text):
        """Keep what is on a machine whose asset number, serial, model or place contains `text`."""
        return self.on_found(machines_found(text))

    def on_found(self, found):
        """Keep what is on a machine of a `Found`."""
        return on_found(self, found)

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

    def with_last_attempt(self):
        """Annotate what lists say of attempts: their number, and kind and day of the latest."""
        attempts = apps.get_model("inspections", "Attempt").objects.filter(inspection=OuterRef("pk"))
        latest = attempts.latest_first()
        counted = attempts.order_by().values("inspection").annotate(number=Count("pk")).values("number")
        return self.annotate(
            attempted=Subquery(counted), last_attempt=Subquery(latest.values("kind")[:1]),
            last_attempt_until=Subquery(latest.values("until")[:1]),
        )  # fmt: skip

    def in_order_of_work(self):
        return self.order_by(F("booked_on").asc(nulls_last=True), "due_on", "pk")


class InspectionStepQuerySet(SiteScopedQuerySet):
    site_path = "inspection__machine__area__site"

    def that_apply(self):
        return self.filter(applies=True)

    def last_sets(self):
        """Without the sets of readings that a repair or an adjustment made a thing of the past."""
        return self.filter(is_last=True)

    def essential_untested(self):
        """Essential steps that apply and prove nothing."""
        return self.unsettled().filter(is_essential=True)

    def settled(self):
        """Steps that apply and prove something, by their last set of readings.

        Written out, not as what is left beside the unsettled: PostgreSQL would look through every step for each row.
        """
        return self.that_apply().last_sets().filter(~_is_unsettled())

    def unsettled(self):
        """Steps that apply and prove nothing: not tested, nothing judged, or a result left undecided.

        Of several sets of readings the last counts; it must also judge every result that an earlier one judged. In
        Python: `inspections.bench.decision_words.is_settled` of the results of a step.
        """
        return self.that_apply().last_sets().filter(_is_unsettled())

    def with_machine(self):
        return self.select_related(
            "component", "inspection__machine__model", "inspection__machine__area__site", "inspection__procedure"
        )

    def last_time(self, step):
        """The same test on the same subject of the same machine in other signed inspections, the latest first."""
        return self.earlier(step.test_code, step.subject, step.inspection.machine_id, step.inspection_id)

    def earlier(self, test_code, subject, machine, inspection):
        """The steps of `last_time` by the keys of machine and inspection."""
        same = self.filter(test_code=test_code, subject=subject, not_tested_reason="", applies=True)
        of_machine = same.filter(inspection__machine=machine, inspection__stage__in=SIGNED_STAGES)
        others = of_machine.exclude(inspection=inspection)
        return others.order_by("-inspection__signed_at", "position", "-set_number")

    def last_checks(self, inspection):
        """Of each item that was checked on the machine, the latest step in other signed inspections."""
        tested = self.that_apply().filter(test_code="observation", not_tested_reason="").exclude(inspection=inspection)
        latest = Window(
            RowNumber(),
            partition_by=[F("subject"), F("content__item")],
            order_by=[F("inspection__signed_at").desc(), F("position")],
        )
        of_machine = tested.filter(inspection__machine=inspection.machine_id, inspection__stage__in=SIGNED_STAGES)
        return of_machine.annotate(latest=latest).filter(latest=1)


def _is_unsettled():
    results = results_of(step=OuterRef("pk"))
    judged = results.filter(decision__in=JUDGED_WORST_FIRST)
    undecided = results.exclude(decision="").exclude(decision__in=JUDGED_WORST_FIRST)
    return ~Q(not_tested_reason="") | ~Exists(judged) | Exists(undecided) | not_judged_again()


def _has_essential_untested():
    steps = apps.get_model("inspections", "InspectionStep").objects.filter(inspection=OuterRef("pk"))
    return Exists(steps.essential_untested())


@cache
def _result():
    """Return what `with_result` annotates, built once: putting the questions together takes as long as asking them."""
    judged = results_of(step__inspection=OuterRef("pk"), decision__in=WORST_FIRST).filter(that_decides())
    ranks = [When(decision=word, then=rank) for rank, word in enumerate(WORST_FIRST)]
    worst = judged.annotate(rank=Case(*ranks, output_field=models.IntegerField())).order_by("rank")
    without_proof = Q(completion__is_complete=False) | Q(completion__isnull=True)  # what is not stored proves nothing
    return {
        "found_incomplete": Case(
            When(Q(stage__in=SIGNED_STAGES) & without_proof, then=True),
            default=False,
            output_field=models.BooleanField(),
        ),
        "found_worst": Subquery(worst.values("decision")[:1]),
        "found_unconfirmed": Exists(judged.filter(limit_confirmed=False)),
    }


def is_open():
    return Q(stage__in=OPEN_STAGES)


def is_signed():
    return Q(stage__in=SIGNED_STAGES)


def has_signature():
    return Q(signed_at__isnull=False)


def is_incomplete():
    """Asked by key, not joined: a database then begins with the index of the incomplete ones wherever it can."""
    stored = apps.get_model("inspections", "Completion").objects.filter(is_complete=False)
    return Q(pk__in=stored.order_by().values("pk"))


def is_overdue(today):
    return is_open() & Q(closes_on__lt=today)


def is_coming(today, last_day):
    return is_open() & Q(due_on__lte=last_day) & ~Q(closes_on__lt=today)


def machines_with_next_due(machines):
    """Annotate machines with `next_due_on`, `next_closes_on` and `next_due_id` of their earliest open inspection."""
    Inspection = apps.get_model("inspections", "Inspection")
    upcoming = Inspection.objects.open().filter(machine=OuterRef("pk")).order_by("due_on", "pk")
    return machines.annotate(
        next_due_on=Subquery(upcoming.values("due_on")[:1]),
        next_closes_on=Subquery(upcoming.values("closes_on")[:1]),
        next_due_id=Subquery(upcoming.values("pk")[:1]),
    )


def with_by_interval(inspections):
    """Annotate `by_interval`: whether the due date follows from the interval, not from a day that a person chose.

    The nightly plan names nobody; what a signature plans bears the moment of that signature.
    """
    signed = inspections.model.objects.signed().filter(machine=OuterRef("machine"), signed_at=OuterRef("planned_at"))
    return inspections.annotate(
        by_interval=Case(
            When(Q(planned_by=None) | Exists(signed), then=True), default=False, output_field=models.BooleanField()
        )
    )


def machines_without_open(machines, procedure):
    """Keep the machines without an open inspection of `procedure`; annotate when it was last done: with_last_done."""
    Inspection = apps.get_model("inspections", "Inspection")
    of_machine = Inspection.objects.filter(machine=OuterRef("pk"), procedure=procedure)
    return with_last_done(machines.filter(~Exists(of_machine.open())), procedure)


def with_last_done(rows, procedure, machine="pk"):
    """Annotate rows with when `procedure` was last done on their machine, whose key is in the column `machine`.

    last_signed_at     moment of the last one signed here that is complete: another settles no due date
    last_earlier_on    date of the last one recorded elsewhere that counts as this procedure
    last_contained_on  date of the last complete inspection of a procedure that contains this one
    """
    Inspection, Contained = (apps.get_model("inspections", name) for name in ("Inspection", "ContainedInspection"))
    of_machine = {"machine": OuterRef(machine)}
    elsewhere = EarlierInspection.objects.filter(**of_machine, counts_as=procedure.code).order_by("-done_on")
    last = Inspection.objects.filter(**of_machine, procedure=procedure).complete().order_by("-signed_at")
    contained = Contained.objects.filter(done_in__machine=OuterRef(machine), procedure=procedure).order_by("-done_on")
    return rows.annotate(
        last_signed_at=Subquery(last.values("signed_at")[:1]),
        last_earlier_on=Subquery(elsewhere.values("done_on")[:1]),
        last_contained_on=Subquery(contained.values("done_on")[:1]),
    )


def counts_of(rows):
    """Return how many rows each queryset of a mapping has, in one query that counts each by an index of its own."""
    return dict.fromkeys(rows, 0) | dict(counting(rows) if rows else ())


def counting(rows):
    """Return the query that `counts_of` asks: (name, number) of each that has any."""
    first, *others = (
        one.order_by().annotate(counted=Value(name, models.CharField())).values_list("counted").annotate(n=Count("*"))
        for name, one in rows.items()
    )
    return first.union(*others, all=True)


def counts_at_once(rows, conditions):
    """Return how many of the rows fulfil each condition of a mapping, in one query that reads them once."""
    return rows.order_by().aggregate(**{name: Count("pk", filter=one) for name, one in conditions.items()})


def due_window(due_on, window_days):
    """The first and the last day on which an inspection due on `due_on` counts as on time."""
    return due_on - timedelta(days=window_days), due_on + timedelta(days=window_days)
