"""Save what a form of the bench holds: each accepted reading by itself; refused ones are returned with their text."""

from inspections.actions import add_to_test_set, clear_reading, enter_reading
from inspections.at_bench.step_content import test_of
from inspections.at_bench.test_set import named_in_place
from inspections.errors import InstrumentRefused, ReadingContested, ReadingRefused
from inspections.forms.bench import entry_with_column_settings, is_untouched, read_entry, sent_slots
from inspections.models import Reading


def keep_entry(step, entry, *, by, at, typed_at=None):
    """Save one reading and return it, or take it back if its text is empty. Raise ReadingRefused or RecordFrozen.

    Raise ReadingContested if another one was entered there that was not seen: then both are saved.
    """
    slot = entry.slot
    if entry.as_read:
        kept = enter_reading(step, entry, by=by, at=at, typed_at=typed_at)
        if kept.is_contested:
            raise ReadingContested(f"{slot.label}: another reading has been entered here.", slot.key)
        return kept
    standing = clear_reading(step, **entry.place, by=by, at=at, seen=entry.seen)
    if standing:
        raise ReadingContested(
            f"{slot.label}: {standing.author} has entered {standing} here, so nothing was deleted. "
            "Clear the field again if that reading is wrong.",
            slot.key,
        )
    return None


def keep_step(step, data, instruments, *, by, at):
    """Keep every reading of a whole form that was changed on it.

    A place that the form shows as it was laid out is left alone, so that an old page undoes nothing newer. Return the
    refused places: slot key to (text as typed, sentence). Raise RecordFrozen if the inspection is not in progress.
    """
    laid_out = {str(r.pk): r for r in Reading.objects.filter(step=step).select_related("instrument")}
    standing = {r.slot: r for r in laid_out.values() if r.superseded_at is None}
    refused = {}
    for slot in sent_slots(step, test_of(step), data):
        try:
            if is_untouched(data, slot, laid_out) or _took_instrument(step, data[slot.name], slot, instruments, by, at):
                continue
            entry = read_entry(data, slot, instruments, ambient_pa_abs=step.inspection.ambient_pa_abs)
            if not entry.repeats(standing.get(slot.key)):
                keep_entry(step, entry, by=by, at=at)
        except ReadingRefused as error:
            refused[error.slot] = refusal(error, data[slot.name].strip())
    return refused


def _took_instrument(step, text, slot, instruments, by, at):
    """Whether an instrument's code was typed into the place: then it is added to the test set. Raise ReadingRefused."""
    named = named_in_place(instruments, slot, text)
    if named:
        site = step.inspection.machine.site
        try:
            add_to_test_set(named, site=site, day=site.date_of(at), by=by)
        except InstrumentRefused as error:
            raise ReadingRefused(str(error), slot.key) from None
    return named is not None


def apply_column_settings(step, table, data, instruments, *, by, at):
    """Enter the current readings of a table again with the unit, zero and instrument chosen above each column.

    Return the refused places, as `keep_step` does.
    """
    refused = {}
    for reading in Reading.objects.current().filter(step=step, field=table).select_related("instrument"):
        try:
            entry = entry_with_column_settings(step, reading, data, instruments)
            keep_entry(step, entry, by=by, at=at)
        except ReadingRefused as error:
            refused[error.slot] = refusal(error, reading.as_read)
    return refused


def sentences(refused):
    """Return why the places of `refused`, or of each step of it, were refused; each sentence once."""
    found = [sentences(one) if isinstance(one, dict) else one[1] for one in refused.values()]
    return " ".join(dict.fromkeys(found))


def refusal(error, typed):
    """What the page shows for it: the text as typed, None to show the current reading instead, and the sentence."""
    return (None if isinstance(error, ReadingContested) else typed, str(error))
