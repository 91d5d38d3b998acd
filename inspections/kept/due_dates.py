"""What became of each due date, kept: figures over a year of them count rows instead of judging each again."""

from datetime import timedelta
from functools import cache
from hashlib import sha256

from django.db.models import F, OuterRef, Q, Subquery

from fleet.acting.keys import only_condition
from fleet.models import Area, AreaPeriod, Machine, Site
from fleet.models.querysets.prepared_queries import prepared
from inspections.kept.keeping import Kind, holds
from inspections.kept.ways import itself, of_rows
from inspections.models import Attempt, AttemptKind, ContainedInspection, Inspection, KeptDueDate, PlanningRule
from inspections.schedule.on_time import Answer, answered, due_dates, signed_for_it
from inspections.schedule.on_time_figures import counted_answers, figure_of, figure_of_counts

RULES = 2  # to be raised with every change of `inspections.schedule.on_time` that changes an answer
# All that there is, named: a figure then reads one range of days of the index for each number, and sorts nothing.
EVERY = {"answer__in": Answer.values, "is_early__in": (False, True), "excuse__in": ("", *AttemptKind.values)}
COLUMNS = (
    "pk",
    "machine",
    "procedure",
    "due_on",
    "closes_on",
    "answer",
    "answered_on",
    "is_early",
    "excuse",
    "area_then",
    "site_then",
)


def judged_due_dates(person, first, last, today):
    """Return the due dates whose last day is from `first` to `last` and past, at sites that `person` may see.

    The rows are kept ones where they hold, else inspections judged here; both have answer, is_early, excuse, closes_on.
    """
    return in_period(seen_due_dates(person), first, last, today)


def seen_due_dates(person):
    """Return the due dates at sites that `person` may see, to be narrowed and given to `in_period`.

    Kept ones where they hold, else inspections. Both have machine, procedure, and site_then and area_then: where the
    machine was on the last day.
    """
    if not holds(DUE_DATES):
        return Inspection.objects.visible_where_due(person)
    rows = KeptDueDate.objects.annotate(site_then=F("site"), area_then=F("area"))
    return rows.filter(site__in=person.site_ids) if person.site_ids else rows


def in_period(rows, first, last, today):
    """Return those of `seen_due_dates` whose last day is from `first` to `last` and past, judged."""
    if rows.model is Inspection:
        return due_dates(rows, first, last, today)
    return rows.filter(**EVERY, closes_on__gte=first, closes_on__lte=_last_past(last, today))


def listed_in_period(rows, first, last, today):
    """Return the same as `in_period` for a list, which an index has in the order of last days, with names to sort by.

    site_was, area_was  where the machine was on the last day
    """
    if rows.model is Inspection:
        return due_dates(rows, first, last, today).with_words_where_due()
    rows = rows.filter(closes_on__gte=first, closes_on__lte=_last_past(last, today))
    return rows.alias(site_was=_name(Site, "site"), area_was=_name(Area, "area"))


def shown_due_dates(rows):
    """Add to kept rows what a page shows of each."""
    shown = rows.select_related("machine__model", "procedure")
    return shown.annotate(
        site_was=F("site__name"), area_was=F("area__name"), answered_by=Subquery(signed_for_it().values("pk")[:1])
    )


def _name(model, path):
    """Return the name of a row's site or area, asked for only where rows are sorted by it: a join is made anyway."""
    return Subquery(model.objects.filter(pk=OuterRef(path)).order_by().values("name"))


def on_time_figure(person, first, last, today):
    """Return the figure of the same due dates, in two queries, which for a person who sees every site are prepared."""
    if person.site_ids or not holds(DUE_DATES):
        return figure_of(judged_due_dates(person, first, last, today))
    return figure_of_counts(_counted_everywhere(first, _last_past(last, today)))


def _last_past(last, today):
    return min(last, today - timedelta(days=1))


@prepared
def _counted_everywhere(first, last):
    return counted_answers(KeptDueDate.objects.filter(**EVERY, closes_on__gte=first, closes_on__lte=last))


def computed(machines, day, using):
    rows = (
        answered(Inspection.objects.using(using).filter(**only_condition("machine", machines)))
        .with_area_where_due()
        .order_by()
    )
    return {row[0]: _row(*row) for row in rows.values_list(*COLUMNS)}


def _row(inspection, machine, procedure, due_on, closes_on, answer, answered_on, is_early, excuse, area, site):
    return KeptDueDate(
        inspection_id=inspection, machine_id=machine, procedure_id=procedure, area_id=area, site_id=site,
        due_on=due_on, closes_on=closes_on, answer=answer, answered_on=answered_on, is_early=is_early,
        excuse=excuse or "",
    )  # fmt: skip


@cache
def rules():
    return sha256(f"{RULES} {', '.join(Answer.values)}".encode()).hexdigest()[:16]


def _of_rules(before, using):
    """Return the machines with an inspection that was voided at a moment at which one of these rules was carried out.

    A rule that was just carried out voided them in the same action, so that they name their machines as well.
    """
    rules = PlanningRule.objects.using(using).filter(pk__in=list(before))
    moments = {at for pair in rules.values_list("begun_at", "stopped_at") for at in pair if at is not None}
    voided = Inspection.objects.using(using).filter(~Q(void_reason=""), voided_at__in=moments)
    return set(voided.values_list("machine", flat=True)) if moments else set()


DUE_DATES = Kind(
    name="due dates",
    model=KeptDueDate,
    computed=computed,
    ways={
        Inspection: of_rows(Inspection, "machine"),
        Machine: itself,
        AreaPeriod: of_rows(AreaPeriod, "machine"),
        Attempt: of_rows(Attempt, "inspection__machine"),
        ContainedInspection: of_rows(ContainedInspection, "done_in__machine"),
        PlanningRule: _of_rules,
    },
    rules=rules,
)
