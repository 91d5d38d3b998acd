"""Record that an inspection was attempted and did not happen."""

from django.db import transaction

from fleet.changes import record_created
from fleet.models import AwayPeriod, Machine
from fleet.web.at_site import day_words
from inspections.errors import Refused, StageRefused
from inspections.models import Attempt, AttemptKind, Finding, Inspection, Severity
from inspections.models.attempts import AWAY

NEED_REASON = (AttemptKind.REFUSED, AttemptKind.LENT, AttemptKind.OUTSIDE_REPAIR, AttemptKind.DEFERRED)
LONGEST_REASON = 300
NEED_DECIDER = (AttemptKind.REFUSED, AttemptKind.DEFERRED)


@transaction.atomic
def record_attempt(inspection, *, kind, by, at, reason="", decided_by="", until=None):
    """Record what happened instead of a planned or booked inspection, which stays open and due as it was.

    until  day to which it is deferred, or on which a machine that is away is expected back; where the machine is
           recorded as away, the attempt names that period, and takes its day and reason where none are given

    A machine that could not be located twice in a row gets a finding, so that somebody decides what to do about it.
    Raise StageRefused for an inspection that is in progress or done, Refused where a reason, a name or a day is
    missing or the day is past, and for the same attempt on the same day.
    """
    held = Inspection.objects.select_for_update(no_key=True).get(pk=inspection.pk)
    if not held.can_be_booked:
        raise StageRefused(
            f"{inspection} is {held.stage_word}. An attempt is recorded only for one that is planned or booked."
        )
    today = inspection.machine.site.date_of(at)
    attempt = Attempt(
        inspection=inspection, kind=AttemptKind(kind), reason=reason.strip(), decided_by=decided_by.strip(),
        until=until, made_on=today, by=by, at=at,
    )  # fmt: skip
    _name_the_period(attempt)
    _refuse_what_is_missing(attempt)
    if Attempt.objects.filter(inspection=inspection, kind=kind, made_on=today).exists():
        raise Refused(f"“{attempt.get_kind_display()}” is recorded for {inspection} today already.")
    attempt.save()
    record_created([attempt], by=by, at=at)
    _open_finding_of_lost(inspection.machine, by=by, at=at)
    return attempt


def _name_the_period(attempt):
    """Link a loan or an outside repair that is recorded for the machine, and take from it what was not given."""
    if attempt.kind not in AWAY:
        return
    away = AwayPeriod.objects.now().filter(machine=attempt.inspection.machine, kind=attempt.kind).first()
    if away:
        attempt.away, attempt.reason = away, attempt.reason or f"{away.to_whom}: {away.reason}"[:LONGEST_REASON]
        if attempt.until is None and away.expected_on >= attempt.made_on:
            attempt.until = away.expected_on


def _refuse_what_is_missing(attempt):
    kind, label = attempt.kind, attempt.get_kind_display()
    if kind in NEED_REASON and not attempt.reason:
        raise Refused(f"“{label}” needs a reason. State why in a few words.")
    if kind in NEED_DECIDER and not attempt.decided_by:
        raise Refused(f"“{label}” needs the name or the post of whoever decided it.")
    if kind == AttemptKind.DEFERRED and attempt.until is None:
        raise Refused("A deferral needs the day until which the inspection is deferred.")
    if attempt.until and kind not in (AttemptKind.DEFERRED, *AWAY):
        raise Refused(f"“{label}” takes no day. Record a deferral where somebody set one.")
    if attempt.until and attempt.until < attempt.made_on:
        raise Refused(f"{day_words(attempt.until)} is past. Enter today, {day_words(attempt.made_on)}, or a later day.")


def _open_finding_of_lost(machine, *, by, at):
    """Open a finding if nobody could locate the machine at the last two attempts, unless one is open.

    An inspection started in between shows that it was located; a finding that was closed begins the count again.
    """
    Machine.objects.select_for_update(no_key=True).only("pk").get(pk=machine.pk)
    lost = Finding.objects.filter(machine=machine, origin=Finding.Origin.NOT_LOCATED)
    if lost.open().exists():
        return
    attempts = Attempt.objects.of_machine(machine).latest_first()
    started = Inspection.objects.filter(machine=machine, opened_at__isnull=False).order_by("-opened_at")
    located = [*lost.order_by("-closed_at").values_list("closed_at", flat=True)[:1],
               *started.values_list("opened_at", flat=True)[:1]]  # fmt: skip
    if located:
        attempts = attempts.since(max(located))
    last_two = list(attempts[:2])
    if [one.kind for one in last_two] != [AttemptKind.NOT_LOCATED] * 2:
        return
    days = " and ".join(day_words(one.made_on) for one in reversed(last_two))
    finding = Finding.objects.create(
        machine=machine, origin=Finding.Origin.NOT_LOCATED, severity=Severity.OTHER,
        title="The machine could not be located twice",
        description=f"Not located on {days}. Search for it, and decide: correct its area, withdraw it from use, or "
        "have it retired. Nobody knows whether it is safe while it is used somewhere without an inspection.",
        opened_by=by, opened_at=at,
    )  # fmt: skip
    record_created([finding], by=by, at=at)
