"""Readings that a new one is compared with: of the same step at earlier inspections, and of other machines alike.

Each function is one query, whatever the size of the history.
"""

from dataclasses import dataclass
from datetime import datetime

from fleet.catalogue.dimensions import find_unit
from fleet.models.querysets.prepared_queries import prepared
from inspections.bench import Zero
from inspections.bench.slips import Read, Typed
from inspections.models import Inspection, InspectionStep, Reading

INSPECTIONS = 6  # that are looked back upon
OF_MODEL = 12  # newest inspections of the model at the site, among which those with the step are looked for
COLUMNS = (
    "field", "row", "column", "as_read", "unit", "zero", "step_id", "step__inspection__signed_at",
    "step__inspection__ambient_kpa_abs",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class EarlierReading:
    """One earlier reading with the words for it, and when its inspection was signed (None for one of today)."""

    read: Read
    dimension: str
    words: str
    signed_at: datetime | None = None


def earlier_readings(step):
    """Return the readings of the same step at the newest inspections of the machine, in order of their dates."""
    return _shown(_earlier(step.test_code, step.subject, step.inspection.machine_id, step.inspection_id), step)


def readings_of_model(step):
    """Return the readings of the same step of other machines of the model at the site, newest inspections only."""
    machine = step.inspection.machine
    return _shown(_of_model(step.test_code, step.subject, machine.pk, machine.model_id, machine.site.pk), step)


def current_reading(reading, ambient_pa_abs):
    """Return a reading of today in the same form; None for one that is no number."""
    typed = typed_of(reading.as_read, reading.unit, reading.zero, ambient_pa_abs)
    return typed and EarlierReading(_read(typed, reading.slot, 0), find_unit(reading.unit)[0].code, str(reading))


def typed_of(as_read, unit, zero, ambient_pa_abs):
    """Return what was typed as the bench compares it; None for an answer, a choice, or what can't be a value."""
    known = find_unit(unit)
    if known is None or known[0].is_answer:
        return None
    typed = Typed(as_read, unit, Zero(zero) if zero else None, ambient_pa_abs)
    try:
        float(typed.value)
    except ValueError:
        return None
    return typed


@prepared
def _earlier(test_code, subject, machine, inspection):
    return _of_steps(InspectionStep.objects.earlier(test_code, subject, machine, inspection)[:INSPECTIONS])


@prepared
def _of_model(test_code, subject, machine, model, site):
    alike = Inspection.objects.signed().filter(machine__model=model, machine__area__site=site)
    newest = alike.exclude(machine=machine).order_by("-signed_at")[:OF_MODEL]
    same = InspectionStep.objects.filter(
        inspection__in=newest.values("pk"), test_code=test_code, subject=subject, applies=True
    )
    return _of_steps(same.order_by("-inspection__signed_at", "pk")[:INSPECTIONS])


def _of_steps(steps):
    rows = Reading.objects.current().filter(step__in=steps.values("pk")).exclude(unit__in=("", "yes/no"))
    return rows.order_by("step__inspection__signed_at", "step_id", "pk").values_list(*COLUMNS)


def _shown(rows, step):
    occasions, found = {}, []
    for field, row, column, as_read, unit, zero, step_id, signed_at, ambient in rows:
        occasion = occasions.setdefault(step_id, len(occasions))
        site_ambient = step.inspection.machine.site.ambient_pa_abs
        typed = typed_of(as_read, unit, zero, ambient * 1000 if ambient else site_ambient)
        if typed:
            read = _read(typed, (field, row, column), occasion)
            found.append(EarlierReading(read, find_unit(unit)[0].code, f"{as_read} {unit}", signed_at))
    return found


def _read(typed, slot, occasion):
    return Read(slot, typed.value, typed.step, occasion)
