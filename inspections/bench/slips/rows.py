"""Earlier tables seen in the rows of today: a sweep repeated at other set values has other readings in its rows.

What a person sets in a row (a pressure of a sweep, a flow, a time) says with what the rest of the row is compared: at
the same set values with the same reading, between two of them with what lies between. All figures are SI.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import isclose

from .knowledge import Read, Slot

SAME_SETTING = 0.02  # share by which a set value is met or not; common practice, no source


def in_rows_of_today(
    slot: Slot, earlier: Sequence[Read], here: Sequence[Read], sets: Sequence[str], before: Sequence[Read] = ()
) -> list[Read]:
    """Return `earlier` as if its tables had been read at today's settings, each with the values beside it.

    slot     the place that is asked about; only its column is seen anew
    earlier  readings that it is compared with, of one dimension
    here     today's readings of the step, of any dimension
    sets     columns of the table of `slot` that a person sets; without any, or for one of them, row is row
    before   earlier readings of the step of any dimension, where they are more than `earlier`
    """
    rows = _settings([*here], sets, slot[0])
    if slot[2] and sets and slot[2] not in sets and rows:
        column = [one for one in earlier if one.column == (slot[0], slot[2])]
        others = [one for one in earlier if one.column != (slot[0], slot[2])]
        return [*_with_neighbours(others), *_at_settings(column, rows, _by_occasion([*before, *earlier]), sets)]
    return _with_ends(earlier) if slot[2] in sets else _with_neighbours(earlier)


def _with_ends(reads):
    """Give each reading the ends of its column: what is set in a row may be anything between."""
    ends = defaultdict(list)
    for one in reads:
        ends[one.occasion, one.column].append(one.value)
    return [replace(one, beside=(min(found := ends[one.occasion, one.column]), max(found))) for one in reads]


def _with_neighbours(reads):
    """Give each reading of a table those of the rows above and below it."""
    values = {(one.occasion, one.slot): one.value for one in reads}
    return [replace(one, beside=_neighbours(one, values)) for one in reads]


def _neighbours(one, values):
    field, row, column = one.slot
    found = [values.get((one.occasion, (field, number, column))) for number in (row - 1, row + 1) if column]
    return tuple(value for value in found if value is not None)


def _settings(reads, sets, field):
    """Map each row of a table to its set values, where all of them are known."""
    found = defaultdict(dict)
    for one in reads:
        if one.slot[0] == field and one.slot[2] in sets:
            found[one.slot[1]][one.slot[2]] = one.value
    return {row: tuple(values[key] for key in sets) for row, values in found.items() if len(values) == len(sets)}


def _by_occasion(reads):
    found = defaultdict(list)
    for one in reads:
        found[one.occasion].append(one)
    return found


def _at_settings(column, rows, before, sets):
    """Yield what each earlier table shows at the set values of each row of today."""
    for occasion, reads in _by_occasion(column).items():
        were = _settings(before[occasion], sets, reads[0].slot[0])
        points = sorted(((were[one.slot[1]], one) for one in reads if one.slot[1] in were), key=lambda point: point[0])
        for row, setting in rows.items():
            if points:
                yield _at(setting, row, points)


def _at(setting, row, points):
    """Return a reading at one setting: one at the same setting, else one between those beside it."""
    slot = (points[0][1].slot[0], row, points[0][1].slot[2])
    for number, (was, one) in enumerate(points):
        if all(isclose(a, b, rel_tol=SAME_SETTING) for a, b in zip(was, setting, strict=True)):
            near = points[max(0, number - 1) : number] + points[number + 1 : number + 2]
            return replace(one, slot=slot, beside=tuple(other.value for _, other in near))
    if len(setting) == 1:
        return replace(_between(setting[0], [(was[0], one) for was, one in points]), slot=slot)
    values = [one.value for _, one in points]
    middle = sorted(points, key=lambda point: point[1].value)[len(points) // 2][1]
    return replace(middle, slot=slot, beside=(min(values), max(values)), is_between=True)


def _between(setting, points):
    """Return a reading on the line through the two points around a setting, beyond them through the two nearest."""
    (x1, low), (x2, high) = min(
        pairwise(points), key=lambda pair: _outside(setting, pair[0][0], pair[1][0]), default=(points[0], points[0])
    )
    share = (setting - x1) / (x2 - x1) if x2 > x1 else 0.0
    on_line = low.value + min(max(share, 0.0), 1.0) * (high.value - low.value)
    beyond = low.value + share * (high.value - low.value)
    ends = (low.value, high.value) if 0 <= share <= 1 else (on_line, max(beyond, 0.0) if on_line >= 0 else beyond)
    return replace(low, value=on_line, beside=ends, is_between=True)


def _outside(setting, low, high):
    return max(low - setting, setting - high, 0.0)
