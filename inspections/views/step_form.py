"""Keep what a form of the bench holds: each good reading by itself; the refused ones are told with their text."""

from inspections.actions import clear_reading, enter_reading
from inspections.bench import get_test
from inspections.errors import ReadingRefused
from inspections.forms.bench import is_untouched, read_entry, sent_names
from inspections.models import Reading


def keep_entry(step, entry, *, by, at):
    """Keep one reading, or take it back if its text is empty. Raise ReadingRefused or RecordFrozen."""
    slot = entry.slot
    if entry.as_read:
        enter_reading(step, slot.field, by=by, at=at, **entry.arguments())
    else:
        clear_reading(step, slot.field, row=slot.row, column=slot.column, by=by, at=at)


def keep_step(step, data, instruments, *, by, at):
    """Keep every reading of a whole form that was changed on it.

    A place that the form shows as it was laid out is left alone, so that an old page undoes nothing newer. Return the
    refused places: slot key to (text as typed, sentence). Raise RecordFrozen if the inspection is not on the bench.
    """
    laid_out = {str(r.pk): r for r in Reading.objects.filter(step=step).select_related("instrument")}
    standing = {r.slot: r for r in laid_out.values() if r.superseded_at is None}
    refused = {}
    for name in sent_names(step, get_test(step.test_code), data):
        try:
            if is_untouched(data, name, laid_out.get(data.get(f"{name}:kept"))):
                continue
            entry = read_entry(step, data, name, instruments)
            if not entry.repeats(standing.get(entry.slot.key)):
                keep_entry(step, entry, by=by, at=at)
        except ReadingRefused as error:
            refused[error.slot] = (data[name].strip(), str(error))
    return refused


def apply_column_settings(step, table, data, instruments, *, by, at):
    """Enter the standing readings of a table anew with the unit, zero and instrument chosen above each column.

    Return the refused places, as `keep_step` does.
    """
    refused = {}
    for reading in Reading.objects.current().filter(step=step, field=table).select_related("instrument"):
        name = f"{table}.{reading.row}.{reading.column}"
        column = {key: value for key, value in data.items() if key.startswith(f"{table}.*.")}
        try:
            entry = read_entry(step, {**column, name: reading.as_read}, name, instruments)
            keep_entry(step, entry, by=by, at=at)
        except ReadingRefused as error:
            refused[error.slot] = (reading.as_read, str(error))
    return refused
