"""Enter when people work and are away, free days of sites, closing days of areas, and who is competent."""

from django.db import transaction

from fleet.changes import record_created, recording
from fleet.web.at_site import day_words
from inspections.errors import Refused
from inspections.models import AreaClosing, Competence, FreeDay, Leave, WorkingHours
from inspections.models.calendars import DAY_MINUTES, WEEKDAYS
from inspections.schedule.required_skills import skills_asked_for


@transaction.atomic
def set_working_hours(person, minutes, *, by, at):
    """Set the minutes by weekday (0 is Monday) of a technician. Raise Refused for more than a day holds."""
    for weekday, number in sorted(minutes.items()):
        if not 0 <= number <= DAY_MINUTES:
            raise Refused(f"{WEEKDAYS[weekday]}: {number} minutes are not in a day. Enter 0 to {DAY_MINUTES}.")
        row = WorkingHours.objects.filter(person=person, weekday=weekday).first()
        if row is None:
            row = WorkingHours.objects.create(person=person, weekday=weekday, minutes=number)
            record_created([row], by=by, at=at)
        elif row.minutes != number:
            with recording(row, by=by, at=at):
                WorkingHours.objects.filter(pk=row.pk).update(minutes=number)


@transaction.atomic
def enter_leave(person, *, kind, first_day, last_day, by, at):
    """Enter that somebody is away from `first_day` to `last_day`. Bookings of these days stay; see move_bookings_of."""
    if last_day < first_day:
        raise Refused(
            f"The last day, {day_words(last_day)}, is before the first, {day_words(first_day)}. Exchange the two."
        )
    return _entered(Leave(person=person, kind=kind, first_day=first_day, last_day=last_day, by=by, at=at))


@transaction.atomic
def confirm_competence(person, *, evidence, by, at, machine_model=None, manufacturer="", skill="", last_day=None):
    """Confirm that somebody is competent for a model, for every model of a manufacturer, or in a skill that a planning
    rule asks for. Nobody confirms their own.

    Raise Refused without a subject or without evidence.
    """
    if person.pk == by.pk:
        raise Refused(f"{person} cannot confirm a competence of their own. Another person does.")
    if sum([machine_model is not None, bool(manufacturer.strip()), bool(skill.strip())]) != 1:
        raise Refused("A competence is for one machine model, one manufacturer or one skill. Choose one of the three.")
    if skill.strip() and skill.strip() not in (asked := skills_asked_for()):
        raise Refused(f"No planning rule asks for the skill “{skill.strip()}”. Accepted: {', '.join(asked) or 'none'}.")
    if not evidence.strip():
        raise Refused("State what shows the competence, such as a course with its date.")
    return _entered(
        Competence(
            person=person, machine_model=machine_model, manufacturer=manufacturer.strip(),
            skill=skill.strip(), last_day=last_day, evidence=evidence.strip(), confirmed_by=by,
            confirmed_at=at,
        )
    )  # fmt: skip


@transaction.atomic
def add_free_day(site, *, day, title, by, at):
    """Enter a free day of a site. Raise Refused for a day that is one already."""
    if not title.strip():
        raise Refused("A free day needs a name, such as “Founders' day”.")
    if FreeDay.objects.in_force().filter(site=site, day=day).exists():
        raise Refused(f"{day_words(day)} is already a free day of {site}.")
    return _entered(FreeDay(site=site, day=day, title=title.strip(), by=by, at=at))


@transaction.atomic
def close_area(area, *, reason, by, at, weekday=None, first_day=None, last_day=None):
    """Enter when no machine of an area can be taken: a weekday of every week, or days from first to last."""
    if not reason.strip():
        raise Refused("State why no machine can be taken then, such as “list day”.")
    has_days = first_day is not None and last_day is not None
    if (weekday is not None) == has_days or (has_days and last_day < first_day):
        raise Refused("An area is closed either on one weekday of every week, or from a first to a last day.")
    return _entered(
        AreaClosing(
            area=area, weekday=weekday, first_day=first_day, last_day=last_day, reason=reason.strip(), by=by, at=at
        )
    )


@transaction.atomic
def withdraw_calendar_entry(entry, *, by, at):
    """Withdraw a leave, a competence, a free day or a closing. It stays stored. Raise Refused if it was already."""
    with recording(entry, by=by, at=at):
        rows = type(entry).objects.in_force().filter(pk=entry.pk)
        if not rows.update(withdrawn_by=by, withdrawn_at=at):
            raise Refused(f"{entry} was withdrawn already.")


def _entered(row):
    row.save()
    by = getattr(row, "by", None) or getattr(row, "confirmed_by", None)
    record_created([row], by=by, at=getattr(row, "at", None) or row.confirmed_at)
    return row
