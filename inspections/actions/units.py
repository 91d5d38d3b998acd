"""Choose the units of an inspection, and remember them for the person who chose."""

from django.db import transaction

from fleet.changes import recording
from fleet.place_format import unit_choice_problem
from inspections.actions.holding import hold_inspection_in_progress
from inspections.errors import StageRefused
from inspections.models import BenchUnits, Inspection


@transaction.atomic
def choose_units(inspection, units, *, by, at):
    """Show and ask for quantities in these units from now on; readings keep what was read.

    units  the unit by code of its choice, empty text for “as asked”; other choices stay

    Raise StageRefused for a unit that is not one of its dimension, RecordFrozen if the inspection is not in progress.
    """
    chosen = sound_units(units)
    held = hold_inspection_in_progress(inspection.pk)
    with recording(inspection, by=by, at=at):
        merged = {code: symbol for code, symbol in {**held.units, **units}.items() if symbol}
        Inspection.objects.filter(pk=inspection.pk).update(units=merged)
    inspection.units = merged
    remember_units(by, {**dict.fromkeys(units, ""), **chosen})


def sound_units(units):
    """Return the units without those left as each test asks. Raise StageRefused for one that cannot be chosen."""
    chosen = {code: symbol for code, symbol in units.items() if symbol}
    if problem := unit_choice_problem(chosen):
        raise StageRefused(problem)
    return chosen


def remember_units(person, units):
    """Store what the person chose, for the next inspection that they start."""
    row, _ = BenchUnits.objects.get_or_create(person=person)
    if row.units | units != row.units:
        row.units |= units
        row.save(update_fields=["units"])
