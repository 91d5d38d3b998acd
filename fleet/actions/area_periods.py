"""Where machines are, day by day: the one place that writes areas of machines and their periods.

Entering a machine begins its first period. A move, a correction of its entry and an import end the last one. A move can
be dated back: it counts from its day until the next one that is recorded.
"""

from collections import defaultdict
from collections.abc import Iterable

from django.db import transaction
from django.db.models import DateTimeField, IntegerField, Value

from fleet.changes import record_change, recording
from fleet.errors import RegisterRefused
from fleet.models import AreaPeriod, Machine
from fleet.place_format import day_text

BATCH = 500
LONGEST_EVIDENCE = 300
ENTERED, CORRECTED = "Entered in the register", "Entry corrected"


def begin_area_periods(machines, *, by, at):
    """Begin the first period of machines that were just entered, within the caller's transaction.

    machines  a queryset, without an order
    """
    same = {
        "evidence": Value(ENTERED),
        "by": Value(by and by.pk, IntegerField()),
        "recorded_at": Value(at, DateTimeField()),
    }
    AreaPeriod.objects.insert_selected(
        ("machine", "area", "from_date", *same),
        machines.order_by("pk").values_list("pk", "area", "in_use_from", *same.values()),
    )


@transaction.atomic
def move_machine(machine, *, area, on, evidence, by, at):
    """Record that a machine has been in `area` from the day `on`, until the next move that is recorded.

    Raise RegisterRefused for a day before its first or after today, for an area where it was already, and without the
    evidence.
    """
    machine = Machine.objects.select_for_update(no_key=True).select_related("area__site").get(pk=machine.pk)
    today = area.site.date_of(at)
    if not evidence.strip():
        raise RegisterRefused("State how it is known that the machine is there, such as “seen there” or an order.")
    if not machine.in_use_from <= on <= today:
        raise RegisterRefused(
            f"{day_text(on)} is outside the time of machine {machine}. Accepted: {day_text(machine.in_use_from)}, its "
            f"first day, to today, {day_text(today)}."
        )
    held = _held(machine, on)
    if held.area_id == area.pk:
        raise RegisterRefused(f"Machine {machine} was in {area} on {day_text(on)} already.")
    label, before = f"Area from {on.isoformat()}", str(held.area)
    if held.until_date is None:
        with recording(machine, by=by, at=at):
            machine.area = area
            machine.save(update_fields=["area"])
    _change_from(held, area, on, evidence, by=by, at=at)
    words = {label: f"{area} ({evidence.strip()})"[:LONGEST_EVIDENCE]}
    record_change(machine, by=by, at=at, before={label: before}, after=words, about=f"where {machine} was")
    return machine


def follow_area(machine, *, by, at):
    """Make the last period agree with the area that the entry of a machine, held by the caller, was corrected to."""
    today = machine.site.date_of(at)
    held = AreaPeriod.objects.filter(machine=machine, until_date=None).first()
    if held is None:  # a machine that was entered past the actions
        _period(machine, machine.area, machine.in_use_from, CORRECTED, by=by, at=at).save()
    elif held.area_id != machine.area_id:
        _change_from(held, machine.area, max(today, held.from_date), CORRECTED, by=by, at=at)


def follow_areas(machines: Iterable[tuple], *, by, at):
    """Do as `follow_area` for pairs of a machine and its new area, in a few queries for each batch."""
    new = dict(machines)
    pairs = {machine.pk: (machine, area) for machine, area in new.items()}
    for keys in _batches(list(pairs)):
        rows = AreaPeriod.objects.filter(machine__in=keys, until_date=None).select_related("machine")
        ended, begun, replaced = defaultdict(list), [], []
        for held in rows:
            machine, area = pairs[held.machine_id]
            day = max(area.site.date_of(at), held.from_date)
            if held.area_id == area.pk:
                continue
            if held.from_date == day:
                held.area, held.evidence, held.by, held.recorded_at = area, CORRECTED, by, at
                replaced.append(held)
            else:
                ended[day].append(held.pk)
                begun.append(_period(machine, area, day, CORRECTED, by=by, at=at))
        _write(ended, begun, replaced)


def _write(ended, begun, replaced):
    for day, pks in ended.items():
        AreaPeriod.objects.filter(pk__in=pks).update(until_date=day)
    AreaPeriod.objects.bulk_create(begun, batch_size=BATCH)
    for held in replaced:
        held.save(update_fields=["area", "evidence", "by", "recorded_at"])


def _held(machine, on):
    """Return the period of a locked machine that covers a day."""
    held = AreaPeriod.objects.on(on).filter(machine=machine).select_related("area__site").first()
    if held is None:
        raise RegisterRefused(f"It is not recorded where machine {machine} was on {day_text(on)}. Correct its entry.")
    return held


def _change_from(held, area, day, evidence, *, by, at):
    """Put another area in the place of what a period says from `day` on, to its end."""
    evidence = evidence.strip()[:LONGEST_EVIDENCE]
    if held.from_date == day:
        held.area, held.evidence, held.by, held.recorded_at = area, evidence, by, at
        held.save(update_fields=["area", "evidence", "by", "recorded_at"])
        return
    until, held.until_date = held.until_date, day
    held.save(update_fields=["until_date"])
    _period(held.machine, area, day, evidence, by=by, at=at, until_date=until).save()


def _period(machine, area, day, evidence, *, by, at, until_date=None):
    return AreaPeriod(
        machine=machine, area=area, from_date=day, until_date=until_date, evidence=evidence, by=by, recorded_at=at
    )


def _batches(keys):
    return (keys[first : first + BATCH] for first in range(0, len(keys), BATCH))
