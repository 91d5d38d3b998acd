"""Say how long components of a kind last, and enter what their meters show."""

from django.db import transaction
from django.utils import timezone

from fleet.catalogue import COMPONENT_KINDS
from fleet.changes import record_created, recording
from fleet.place_format import day_text
from inspections.errors import Refused
from inspections.models import ComponentLife, LifeUnit, MeterReading
from inspections.models.limit_sources import names_something


@transaction.atomic
def set_component_life(*, kind, life, unit, source, reference, reason, from_date, by, at, machine_model=None):
    """Say how long the components of a kind last, on one model or on all others. It ends an earlier one of that scope.

    Raise Refused with what is accepted.
    """
    if kind not in COMPONENT_KINDS:
        raise Refused(f"“{kind}” is not a kind of component. Accepted: {', '.join(COMPONENT_KINDS)}.")
    today = timezone.localdate(at)
    if from_date < today:
        raise Refused(f"{day_text(from_date)} is in the past. Accepted: {day_text(today)} or a later day.")
    _refuse_unnamed(reason, "reason")
    _refuse_unnamed(reference, "reference of its source")
    for earlier in ComponentLife.objects.filter(kind=kind, machine_model=machine_model, until_date=None):
        if earlier.from_date > from_date:
            raise Refused(f"{earlier} begins later, on {day_text(earlier.from_date)}. End it first.")
        _end(earlier, from_date, f"Replaced by one from {from_date.isoformat()}", by=by, at=at)
    found = ComponentLife.objects.create(
        kind=kind, machine_model=machine_model, life=life, unit=unit, source=source, reference=reference.strip(),
        reason=reason.strip(), from_date=from_date, by=by, at=at,
    )  # fmt: skip
    record_created([found], by=by, at=at)
    return found


@transaction.atomic
def end_component_life(found, *, until_date, reason, by, at):
    """End it: it does not count on `until_date` and after. Raise Refused if it has an end already."""
    _refuse_unnamed(reason, "reason")
    first = max(found.from_date, timezone.localdate(at))
    if until_date < first:
        raise Refused(f"It cannot end on {day_text(until_date)}. Accepted: {day_text(first)} or a later day.")
    if not _end(found, until_date, reason, by=by, at=at):
        raise Refused(f"The life of {found} has an end date already. Set another one if it should count.")


@transaction.atomic
def enter_meter_reading(component, *, unit, used, read_on, by, at, note=""):
    """Enter how many hours or cycles a component had run since it was fitted, as its meter showed on a day.

    Raise Refused for a component that was removed, a day outside its time on the machine, and a count below an earlier
    one: a component that was replaced is another component.
    """
    if unit not in (LifeUnit.HOURS, LifeUnit.CYCLES):
        raise Refused(f"A meter shows hours or cycles, got “{unit}”.")
    if component.removed_on:
        raise Refused(f"{component} was removed on {day_text(component.removed_on)}. Enter the one that is fitted now.")
    today = component.machine.site.date_of(at)
    if not component.fitted_on <= read_on <= today:
        raise Refused(
            f"{day_text(read_on)} is not accepted for {component}, fitted on {day_text(component.fitted_on)}. "
            f"Accepted: {day_text(component.fitted_on)} to {day_text(today)}."
        )
    _refuse_running_backwards(component, unit, used, read_on)
    reading = MeterReading.objects.create(
        component=component, unit=unit, used=used, read_on=read_on, note=note.strip(), by=by, at=at
    )
    record_created([reading], by=by, at=at)
    return reading


@transaction.atomic
def withdraw_meter_reading(reading, *, by, at):
    """Withdraw a reading that was entered wrongly; it stays readable. Raise Refused if it was withdrawn before."""
    with recording(reading, by=by, at=at):
        if not MeterReading.objects.in_force().filter(pk=reading.pk).update(withdrawn_by=by, withdrawn_at=at):
            raise Refused(f"The reading of {reading} was withdrawn already.")


def _refuse_running_backwards(component, unit, used, read_on):
    readings = component.meter_readings.in_force().filter(unit=unit)
    before = readings.filter(read_on__lte=read_on).order_by("-used").first()
    after = readings.filter(read_on__gte=read_on).order_by("used").first()
    if (before and used < before.used) or (after and used > after.used):
        other = before if before and used < before.used else after
        raise Refused(
            f"{used} {unit} on {day_text(read_on)} does not fit {other.used} on {day_text(other.read_on)}. Compare the "
            "meter; withdraw a reading that was entered wrongly. A component that was replaced begins at 0: enter the "
            "replacement in the gas circuit."
        )


def _refuse_unnamed(text, name):
    if not names_something(text):
        raise Refused(f"The life of a component needs the {name}; got “{text.strip()}”. Name it, with page or date.")


def _end(found, until_date, reason, *, by, at):
    fields = {"until_date": until_date, "ended_reason": reason.strip()[:300], "ended_by": by, "ended_at": at}
    with recording(found, by=by, at=at):
        return ComponentLife.objects.filter(pk=found.pk, until_date=None).update(**fields)
