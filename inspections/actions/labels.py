"""Codes of labels, and what arrives by them without a login: fault reports and checks by users."""

from datetime import timedelta

from django.db import transaction

from fleet.changes import record_created, recording
from fleet.models import Machine
from inspections.errors import Refused, TooMany
from inspections.label_page.machine_standing import is_usable
from inspections.models import FaultPhotograph, FaultReport, MachineLabel, UserCheck

HOUR = timedelta(hours=1)
REPORTS_AN_HOUR = 6  # about one machine
MOST_WAITING = 20  # reports about one machine
CHECKS_AN_HOUR = 12  # of one machine


@transaction.atomic
def issue_label(machine, *, by, at):
    """Return the label in force of a machine, with a new code if it has none."""
    _hold(machine)
    label = MachineLabel.objects.in_force().filter(machine=machine).first()
    if label is None:
        label = MachineLabel.objects.create(machine=machine, issued_by=by, issued_at=at)
        record_created([label], by=by, at=at)
    return label


@transaction.atomic
def replace_label(machine, *, reason, by, at):
    """Give the machine a new code. The code of the earlier label is dead from now on."""
    if not reason.strip():
        raise Refused(f"State why the label of machine {machine} gets a new code, such as “label lost”.")
    _hold(machine)
    for label in MachineLabel.objects.in_force().filter(machine=machine):
        with recording(label, by=by, at=at):
            MachineLabel.objects.filter(pk=label.pk).update(
                replaced_by=by, replaced_at=at, replaced_reason=reason.strip()
            )
    return issue_label(machine, by=by, at=at)


@transaction.atomic
def report_from_label(label, *, what, where, who, key, at, photograph=None):
    """Store a fault report to be triaged; a repeated form returns the report that it made first.

    photograph  a CleanPhotograph or None
    It changes neither the status of the machine nor a finding. Raise TooMany beyond the limits of one machine.
    """
    _hold(label.machine)
    known = FaultReport.objects.filter(key=key).first()
    if known is not None:
        return known
    _refuse_dead(label)
    reports = FaultReport.objects.filter(machine=label.machine)
    if reports.waiting()[:MOST_WAITING].count() >= MOST_WAITING:
        raise TooMany(
            f"{MOST_WAITING} fault reports about machine {label.machine} wait already, and no more are accepted until "
            "the biomedical department has dealt with them."
        )
    _refuse_beyond(REPORTS_AN_HOUR, reports.reported_since(at - HOUR), "reported_at", "fault reports", label, at)
    report = FaultReport.objects.create(
        machine=label.machine, label=label, what=what.strip(), where=where.strip(), who=who.strip(), key=key,
        reported_at=at,
    )  # fmt: skip
    record_created([report], by=None, at=at)
    if photograph:
        FaultPhotograph.objects.create(
            report=report, content=photograph.content, digest=photograph.digest, width=photograph.width,
            height=photograph.height,
        )  # fmt: skip
    return report


@transaction.atomic
def record_user_check(label, *, kind, by_name, check_list, result, key, at, note=""):
    """Store a check that a user did; a repeated form returns the check that it recorded first.

    Raise Refused for a machine that must not be used, TooMany beyond the limit of one machine.
    """
    _hold(label.machine)
    known = UserCheck.objects.filter(key=key).first()
    if known is not None:
        return known
    _refuse_dead(label)
    if not is_usable(label.machine):
        raise Refused(f"Machine {label.machine} must not be used. Do not use it; no check is recorded.")
    checks = UserCheck.objects.filter(machine=label.machine).since(at - HOUR)
    _refuse_beyond(CHECKS_AN_HOUR, checks, "at", "checks", label, at)
    return UserCheck.objects.create(
        machine=label.machine, label=label, kind=kind, by_name=by_name.strip(), result=result, note=note.strip(),
        check_list=check_list.strip(), key=key, at=at,
    )  # fmt: skip


def _hold(machine):
    """Lock the machine, so that two requests about it are counted one after the other, and reload its status."""
    held = Machine.objects.select_for_update(no_key=True).only("pk", "status").get(pk=machine.pk)
    machine.status = held.status


def _refuse_dead(label):
    if not MachineLabel.objects.in_force().filter(pk=label.pk).exists():
        raise Refused("This label is no longer valid. The machine has a new label.")


def _refuse_beyond(most, rows, field, words, label, at):
    moments = list(rows.order_by(f"-{field}").values_list(field, flat=True)[:most])
    if len(moments) == most:
        seconds = max(1, round((moments[-1] + HOUR - at).total_seconds()))
        message = f"{most} {words} of machine {label.machine} arrived within an hour, and no more are accepted now."
        raise TooMany(message, seconds)
