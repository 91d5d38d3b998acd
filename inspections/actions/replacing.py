"""Readings that were replaced or taken back, recorded among the changes of their inspection.

The rows stay in the table; these entries make the history readable.
"""

from fleet.changes import record_change
from inspections.at_bench.slots import find_slot
from inspections.models import Inspection

NOTHING = "no reading"


def record_replaced(step, standing, entered, *, by, at, token=None):
    """Add an entry with the reading before and now; `entered` is None for a reading that was taken back."""
    record_change(
        Inspection(pk=step.inspection_id),
        by=by,
        at=at,
        token=token,
        about=f"reading of {step}"[:200],
        before={_place(step, standing): _words(standing)},
        after={_place(step, standing): _words(entered) if entered else NOTHING},
    )


def _place(step, reading):
    label = find_slot(step, *reading.slot).label
    return f"{label}, row {reading.row + 1}" if reading.column else label


def _words(reading):
    """Such as “62 psi gauge, G-14, entered by Ana Silva”."""
    told = (f"{reading} {reading.zero}".strip(), reading.instrument and reading.instrument.code)
    return ", ".join([*filter(None, told), f"entered by {reading.author}"])
