"""Readings that were replaced or taken back: who did it, and when."""

from dataclasses import dataclass
from datetime import datetime

from fleet.models import Person
from inspections.models import Reading

MOST_OF_A_STEP = 200  # the newest; a program could replace one reading any number of times


@dataclass(frozen=True, slots=True)
class Correction:
    """One reading that no longer counts. `reading` stays in the table as it was read."""

    reading: Reading
    by: Person
    at: datetime


def correction_of(reading):
    """Return the Correction of a reading that was superseded, None for one that counts or is contested.

    A contested reading that was not chosen was dropped by whoever chose; another was replaced after the choice.
    """
    if reading.superseded_at is None or reading.is_contested:
        return None
    if reading.settled_at and reading.settled_at >= reading.superseded_at:
        return Correction(reading, reading.settled_by, reading.settled_at)
    return Correction(reading, reading.superseded_by, reading.superseded_at)


def corrections_at(slot, readings):
    """Return the corrections of one place, the newest first; `readings` are all of a step."""
    found = [correction_of(reading) for reading in readings if reading.slot == slot]
    return sorted((one for one in found if one), key=lambda one: (one.at, one.reading.pk), reverse=True)


def corrections_by_step(steps):
    """Map the key of each step to its corrections in the order of time, the newest MOST_OF_A_STEP. One query."""
    found = {}
    for reading in Reading.objects.corrected().filter(step__in=steps).with_everybody():
        found.setdefault(reading.step_id, []).append(correction_of(reading))
    ordered = {pk: sorted(some, key=lambda one: (one.at, one.reading.pk)) for pk, some in found.items()}
    return {pk: some[-MOST_OF_A_STEP:] for pk, some in ordered.items()}
