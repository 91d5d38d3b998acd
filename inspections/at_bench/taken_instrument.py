"""The instrument of a reading: the one that the person chose, else the one of the test set that fits its value."""

from inspections.at_bench.reading_entry import checked_instrument
from inspections.at_bench.test_set import best_fit, fits, value_si


def taken_instrument(entry, sent, proposed, instruments, *, is_corrected, ambient_pa_abs):
    """Return the instrument to store with an Entry, None for none. Raise ReadingRefused for a choice that cannot be.

    sent, proposed  keys, as text, of the instrument that the form names and of the one that the page had proposed. What
                    differs is the person's own choice, which is never exchanged.
    is_corrected    whether the place holds a reading already: it keeps its instrument while that fits
    """
    slot = entry.slot
    if not entry.as_read or slot.options:
        return None
    current = next((choice for choice in instruments if str(choice.pk) == sent), None) if sent else None
    if sent != proposed and (sent or proposed):
        return checked_instrument(slot, current) if sent else None
    if not slot.needs_instrument and not sent:
        return None
    value = value_si(entry, ambient_pa_abs) if entry.unit in slot.units else None
    values = [] if value is None else [value]
    if current and is_corrected and fits(current, slot.dimension, values):
        return current.instrument
    mine = [choice for choice in instruments if choice.is_in_set]
    best = best_fit(mine, slot.dimension, values) or best_fit([current] if current else [], slot.dimension, values)
    return best.instrument if best else None


def instrument_of_meant(entry, taken, instruments, *, ambient_pa_abs):
    """Return the instrument of a value that was meant in place of another, for which `taken` was stored.

    One of the test set may have been taken for the value that was not meant; then the set is asked again.
    """
    mine = [choice for choice in instruments if choice.is_in_set]
    if taken is None or taken.pk not in {choice.pk for choice in mine} or entry.unit not in entry.slot.units:
        return taken
    best = best_fit(mine, entry.slot.dimension, [value_si(entry, ambient_pa_abs)])
    return best.instrument if best else taken
