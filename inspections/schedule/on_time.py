"""Which due dates were met on time: the one place that decides it, as annotations that the database computes.

A due date is a machine, a procedure and a day on which it is due. It counts once, however many inspections were planned
for it, in the month of its last day: the end of the window of the inspection that was planned for it first. Nothing
that is planned, voided or deferred later moves that day. It counts from the day after it.

A due date is met by the first complete inspection that was signed for it. Whatever is not met by its last day stays in
the denominator: signed late, not signed, signed but incomplete, voided. Three things are shown and not counted:

- a due date that another inspection met (`met_by_another`): the work was done once and counts once, with that one;
- an inspection that was signed on time while an earlier due date of the same machine and procedure was past and not
  met (`_earlier_one_missed`). It does what the earlier one asked for, late. Else voiding a missed inspection and
  planning it again with a later due date would turn a miss into a success;
- a due date that a planning rule took away before the first day of its window (`_taken_away`). No rule asked for that
  work on any day on which it could have been done. Only the nightly plan and the actions on rules do this; what a
  person voids, and what a rule ends once its window is open, stays in the denominator.

Attempts, bookings and deferrals change none of this.
"""

from datetime import timedelta, timezone

from dateutil.relativedelta import relativedelta
from django.db import models
from django.db.models import Case, Exists, F, OuterRef, Q, Subquery, Value, When
from django.db.models.functions import TruncDate

from inspections.models import Attempt, Inspection, PlanningRule, Stage

ON_TIME_MONTHS = 12
FIRST_TO_BEGIN_A_DAY = timezone(timedelta(hours=14))  # the easternmost time zone. Source: IANA, Pacific/Kiritimati


class Answer(models.TextChoices):
    """What became of a due date."""

    ON_TIME = "on time", "On time"
    LATE = "late", "Signed late"
    OPEN = "open", "Not signed"
    INCOMPLETE = "incomplete", "Signed but incomplete"
    VOIDED = "voided", "Voided"
    ELSEWHERE = "elsewhere", "Met by another inspection"
    INSTEAD = "instead", "In place of a missed one"
    TAKEN_AWAY = "taken away", "Taken away by a rule"


MISSED = (Answer.LATE, Answer.OPEN, Answer.INCOMPLETE, Answer.VOIDED)
COUNTED = (Answer.ON_TIME, *MISSED)
NOT_COUNTED = (Answer.ELSEWHERE, Answer.INSTEAD, Answer.TAKEN_AWAY)


def default_period(today):
    """The first and the last day of the months that the figure covers: this month and the 11 before it."""
    return today.replace(day=1) - relativedelta(months=ON_TIME_MONTHS - 1), today


def due_dates(inspections, first, last, today):
    """Return one inspection for each due date whose last day is from `first` to `last` and past, annotated.

    answer       what became of it, an `Answer`
    answered_by  key of the complete inspection that was signed for it first; None without one
    answered_on  date of that signature at the site; answered_at, its moment
    is_early     whether that was before the first day of the window
    excuse       kind of the last attempt at it that was made by its last day; None without one

    The inspection that represents a due date is the one that was planned for it first: `closes_on` is its last day.
    """
    return answered(inspections.filter(closes_on__gte=first, closes_on__lte=min(last, today - timedelta(days=1))))


def answered(inspections):
    """Keep one of these inspections for each due date, annotated as `due_dates` says, whether it is past or to come."""
    for_it = signed_for_it()
    tries = Attempt.objects.filter(
        inspection__machine=OuterRef("machine"), inspection__procedure=OuterRef("procedure"),
        inspection__due_on=OuterRef("due_on"), made_on__lte=OuterRef("closes_on"),
    )  # fmt: skip
    return inspections.filter(~Exists(_same_due_date().filter(pk__lt=OuterRef("pk")))).annotate(
        answered_by=Subquery(for_it.values("pk")[:1]),
        answered_at=Subquery(for_it.values("signed_at")[:1]),
        answered_on=Subquery(for_it.values("completion__signed_on")[:1]),
        excuse=Subquery(tries.latest_first().values("kind")[:1]),
    ).annotate(
        answer=_answer(),
        is_early=Case(When(answered_on__lt=F("opens_on"), then=Value(True)), default=Value(False)),
    )  # fmt: skip


def signed_for_it():
    """Return the complete inspections that were signed for the due date of an outer row, the first of them first."""
    return _complete(_same_due_date()).order_by("signed_at", "pk")


def met_by_another():
    """Whether an inspection for another due date met this one: here, and only here, it is decided.

    Such is a complete inspection of the same procedure on the same machine, signed within the window, or one by a
    procedure that contains this one, signed by the last day of the window.
    """
    contained = Exists(_same_due_date().filter(settlement__done_on__lte=OuterRef("closes_on")))
    return contained | Exists(
        _complete(_same_work())
        .exclude(due_on=OuterRef("due_on"))
        .filter(completion__signed_on__gte=OuterRef("opens_on"), completion__signed_on__lte=OuterRef("closes_on"))
    )


def _answer():
    is_in_time = Q(answered_on__lte=F("closes_on"))
    cases = [
        When(is_in_time & _earlier_one_missed(), then=Value(Answer.INSTEAD)),
        When(is_in_time, then=Value(Answer.ON_TIME)),
        When(met_by_another(), then=Value(Answer.ELSEWHERE)),
        When(answered_on__isnull=False, then=Value(Answer.LATE)),
        When(Exists(_same_due_date().open()), then=Value(Answer.OPEN)),
        When(Exists(_same_due_date().signed()), then=Value(Answer.INCOMPLETE)),
        When(~Exists(_same_due_date().exclude(_taken_away())), then=Value(Answer.TAKEN_AWAY)),
    ]
    return Case(*cases, default=Value(Answer.VOIDED), output_field=models.CharField())


def _earlier_one_missed():
    """Whether another due date was past, and not met by anything, when this one was met."""
    done = _complete(_same_work()).filter(
        Q(due_on=OuterRef("due_on")) | Q(completion__signed_on__gte=OuterRef("opens_on")),
        signed_at__lt=OuterRef(OuterRef("answered_at")),
    )
    past = _same_work().filter(closes_on__lt=OuterRef("answered_on"), planned_at__lt=OuterRef("answered_at"))
    return Exists(past.exclude(due_on=OuterRef("due_on")).exclude(_taken_away()).exclude(Exists(done)))


def _taken_away():
    """Whether carrying out a planning rule ended an inspection before the first day of its window.

    Rules and what they end bear one moment (`carry_out_rules`), which no void by a person has. Every window has
    its site's days; here its first day has begun as soon as it has begun anywhere, so that no open window counts.
    """
    rules = PlanningRule.objects.filter(procedure=OuterRef("procedure"))
    ended = Exists(rules.filter(Q(begun_at=OuterRef("voided_at")) | Q(stopped_at=OuterRef("voided_at"))))
    return ended & Q(stage=Stage.VOID, opens_on__gt=TruncDate("voided_at", tzinfo=FIRST_TO_BEGIN_A_DAY))


def _same_work():
    """Inspections by the same procedure on the same machine."""
    return Inspection.objects.filter(machine=OuterRef("machine"), procedure=OuterRef("procedure")).order_by()


def _same_due_date():
    return _same_work().filter(due_on=OuterRef("due_on"))


def _complete(inspections):
    """Keep what was signed with every essential step proved, as it was stored at the signature."""
    return inspections.signed().filter(completion__is_complete=True)
