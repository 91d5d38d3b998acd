"""Record the software of a machine and the people who were instructed on it; withdraw what was a mistake."""

from django.db import transaction

from fleet.changes import record_created, recording
from fleet.errors import RegisterRefused
from fleet.models import SoftwareVersion, UserInstruction
from fleet.models.device_book_records import MOST_PEOPLE
from fleet.place_format import day_text


@transaction.atomic
def record_software(machine, *, version, installed_on, source, by, at, part=""):
    """Record a version that was installed or read on a day. Raise RegisterRefused without version or source."""
    if not version.strip() or not source.strip():
        raise RegisterRefused("State the version, and where it was read: the service report, or the display.")
    _refuse_future(installed_on, machine.site.date_of(at))
    known = SoftwareVersion.objects.in_force().filter(machine=machine, part__iexact=part.strip())
    if known.filter(installed_on=installed_on, version=version.strip()).exists():
        raise RegisterRefused(f"Version {version.strip()} is already recorded on {day_text(installed_on)}.")
    made = SoftwareVersion.objects.create(
        machine=machine, part=part.strip(), version=version.strip(), installed_on=installed_on, source=source.strip(),
        by=by, at=at,
    )  # fmt: skip
    record_created([made], by=by, at=at)
    return made


@transaction.atomic
def instruct_users(machine, names, *, held_on, instructor, topics, by, at, whole_area=False, **fields):
    """Record that people were instructed on a machine, or on every machine of its model in its area. Return the rows.

    fields  valid_until and reference, where given

    Raise RegisterRefused without names, instructor or topics, and for days that cannot be.
    """
    named = list(dict.fromkeys(one for name in names if (one := " ".join(name.split()))))
    if not named or not instructor.strip() or not topics.strip():
        raise RegisterRefused("State who was instructed, by whom, and on what.")
    if len(named) > MOST_PEOPLE:
        raise RegisterRefused(f"{len(named)} names are more than {MOST_PEOPLE}. Enter them in several lists.")
    _refuse_future(held_on, machine.site.date_of(at))
    if (until := fields.get("valid_until")) and until < held_on:
        raise RegisterRefused(f"{day_text(until)} is before the instruction, {day_text(held_on)}.")
    on = {"machine_model": machine.model, "area": machine.area} if whole_area else {"machine": machine}
    said = {"held_on": held_on, "instructor": instructor.strip(), "topics": topics.strip(), "by": by, "at": at}
    rows = [UserInstruction.objects.create(name=name, **on, **said, **fields) for name in named]
    record_created(rows, by=by, at=at)
    return rows


@transaction.atomic
def withdraw_book_record(row, *, reason, by, at):
    """Withdraw a version or an instruction that was entered by mistake; it stays stored. Raise RegisterRefused."""
    if not reason.strip():
        raise RegisterRefused(f"State why “{row}” is withdrawn.")
    with recording(row, by=by, at=at):
        fields = {"withdrawn_by": by, "withdrawn_at": at, "withdrawn_reason": reason.strip()}
        if not type(row).objects.in_force().filter(pk=row.pk).update(**fields):
            raise RegisterRefused(f"“{row}” was withdrawn already.")
    row.refresh_from_db()
    return row


def _refuse_future(day, today):
    if day > today:
        raise RegisterRefused(f"{day_text(day)} is in the future. Accepted: today, {day_text(today)}, or before.")
