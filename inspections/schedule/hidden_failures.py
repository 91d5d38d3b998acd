"""What each complete inspection showed since the one before: the gaps from which rates of hidden failures follow."""

from collections import Counter, defaultdict

from django.db.models import Exists, F, OuterRef, Q, Subquery

from inspections.models import Finding, FoundHow, Inspection
from inspections.planning.failure_codes import hidden_pairs
from inspections.planning.rates import Gap

DAYS_OF_YEAR = 365.25
HIDDEN, UNCODED, NOTHING = "hidden", "uncoded", ""


def signed_in(machines, first, last):
    """The inspections of some machines that were signed from one day to another, both included."""
    return Inspection.objects.signed().order_by().filter(
        machine__in=machines.order_by().values("pk"), completion__signed_on__range=(first, last)
    )  # fmt: skip


def complete_in(machines, first, last):
    return signed_in(machines, first, last).filter(completion__is_complete=True)


def counted_gaps(machines, first, last, *, by=("procedure",), **only):
    """Return what each gap that ended in the days showed: keys of `by` -> (days, what it showed) -> number. One query.

    by    columns of Inspection, such as procedure and machine__model; one column gives plain keys
    only  further conditions on the inspections, such as their procedure

    Of the findings, HIDDEN counts before UNCODED; NOTHING where the inspection found neither.
    """
    pairs = Q()
    for code, found_how in hidden_pairs(tuple(FoundHow.values)):
        pairs |= Q(code=code, found_how=found_how)
    failures = Finding.objects.filter(origin=Finding.Origin.RESULT, result__step__inspection=OuterRef("pk"))
    before = Inspection.objects.signed().filter(
        machine=OuterRef("machine"), procedure=OuterRef("procedure"), signed_at__lt=OuterRef("signed_at"),
        completion__is_complete=True,
    )  # fmt: skip
    rows = (
        complete_in(machines, first, last)
        .filter(**only)
        .annotate(
            since=Subquery(before.order_by("-signed_at").values("completion__signed_on")[:1]),
            is_hidden=Exists(failures.filter(pairs)),
            is_uncoded=Exists(failures.not_coded()),
        )
    )
    known = rows.filter(since__isnull=False, since__lt=F("completion__signed_on"))
    counted = defaultdict(Counter)
    for *key, since, until, is_hidden, is_uncoded in known.values_list(
        *by, "since", "completion__signed_on", "is_hidden", "is_uncoded"
    ):
        showed = HIDDEN if is_hidden else UNCODED if is_uncoded else NOTHING
        counted[tuple(key) if len(by) > 1 else key[0]][(until - since).days, showed] += 1
    return counted


def gaps_of(counted, failures):
    """Return counted gaps as Gaps; `failures` names what counts as a failure."""
    return [Gap(days / DAYS_OF_YEAR, showed in failures, number) for (days, showed), number in counted.items()]
