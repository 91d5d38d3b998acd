"""The instrument that a place starts with, before a value is typed: never one that does not hold what is expected, nor
one that is far coarser for it than another at hand."""

from fleet.catalogue import COMPONENT_KINDS
from inspections.at_bench.evaluation import bench_reading
from inspections.at_bench.test_set import best_fit, fine_enough, fits
from inspections.bench import BenchError, dimension_of, to_si
from inspections.bench.declarations import Context


def proposed_instrument(offered, slot, expected, latest):
    """Return the key of an instrument to begin with, None where nothing tells one from another.

    offered   what the site has for the dimension
    expected  values in SI that the place is expected to show; empty where nothing is known
    latest    key of the instrument last read in this inspection for that dimension, None if there is none
    """
    usable = [choice for choice in offered if not choice.refusal]
    if expected:
        usable = [choice for choice in usable if fits(choice, slot.dimension, expected)]
    mine = [choice for choice in usable if choice.is_in_set]
    if mine:
        best = best_fit(mine, slot.dimension, expected) if expected else _only(mine, latest)
        return best.pk if best else None
    found = _only(fine_enough(usable, slot.dimension, expected) if expected else usable, latest)
    return found.pk if found else None


def _only(usable, latest):
    same = next((choice for choice in usable if choice.pk == latest), None)
    return same or (usable[0] if len(usable) == 1 else None)


def expected_values(slot, last, context, test):
    """Return what a place is expected to show, in SI: as last time, else as rated, else the limits that judge it.

    last     readings of last time in the place, or in its column
    context  function that returns the Context of the step, called only if nothing was read last time
    """
    found = [value for value in map(_read_last_time, last) if value is not None]
    if found:
        return found
    here = context()
    return _rated(slot, here) or _limits(slot, here, test)


def _read_last_time(reading):
    """Return the value in SI, an absolute pressure at the standard atmosphere: near enough to choose a range by."""
    try:
        one = bench_reading(reading)
        return to_si(one.value, one.unit, zero=one.zero, ambient_pa_abs=Context().ambient_pa_abs)
    except (BenchError, ValueError):
        return None


def _rated(slot, context):
    """The rated value of the dimension of the place; none where several are, since nothing tells which is meant."""
    dimensions = {value.key: value.dimension for kind in COMPONENT_KINDS.values() for value in kind.rated}
    found = [value for key, value in context.rated.items() if dimensions.get(key) == slot.dimension]
    return found if len(found) == 1 else []


def _limits(slot, context, test):
    spec = test.reading_at(slot.field, slot.column)
    judges = [context.limits[key] for key in spec.judges if key in context.limits]
    ends = [(limit.unit, end) for limit in judges for end in (limit.lower_si, limit.upper_si) if end is not None]
    return [end for unit, end in ends if dimension_of(unit) == slot.dimension]
