"""The readings of a demonstration in the order in which they were entered, and what was known before each of them."""

from collections import defaultdict, deque
from dataclasses import dataclass, replace
from functools import cached_property

from numpy import interp

from fleet.catalogue.dimensions import find_unit
from inspections.at_bench.earlier_readings import INSPECTIONS, typed_of
from inspections.bench import get_test
from inspections.bench.slips import Knowledge, Read, Typed, in_rows_of_today, knowledge_of
from inspections.bench.slips.usual import ranges_of
from inspections.models import Reading, Result

COLUMNS = (
    "step_id", "field", "row", "column", "as_read", "unit", "zero", "step__test_code", "step__subject",
    "step__inspection__machine_id", "step__inspection__machine__model_id",
    "step__inspection__machine__area__site_id", "step__inspection__ambient_kpa_abs",
)  # fmt: skip
STANDARD_PA = 101_325.0


@dataclass(frozen=True)
class Entered:
    """One reading of a signed inspection, with its step and what other readings it is compared with."""

    typed: Typed
    read: Read
    dimension: str
    is_of_failed: bool

    @cached_property
    def is_linear(self):
        return any(unit.zero for unit in find_unit(self.typed.unit)[0].units)


@dataclass(frozen=True)
class Step:
    """The readings of one signed step, in the order entered."""

    test: str
    place: tuple  # machine, test, subject
    alike: tuple  # model, site, test, subject
    readings: list


def steps_of_history():
    """Return every signed step with numbers, oldest first."""
    failed = set(Result.objects.failed().values_list("step_id", flat=True))
    rows = Reading.objects.current().filter(step__inspection__signed_at__isnull=False)
    rows = rows.exclude(unit__in=("", "yes/no")).order_by("step__inspection__signed_at", "step_id", "pk")
    found = {}
    for step, field, row, column, as_read, unit, zero, test, subject, machine, model, site, ambient in rows.values_list(
        *COLUMNS
    ):
        one = found.setdefault(step, Step(test, (machine, test, subject), (model, site, test, subject), []))
        typed = typed_of(as_read, unit, zero, ambient * 1000 if ambient else STANDARD_PA)
        read = Read((field, row, column), typed.value, typed.step, len(found))
        one.readings.append(Entered(typed, read, find_unit(unit)[0].code, step in failed))
    return list(found.values())


@dataclass(frozen=True)
class Case:
    """A reading, what was known before it was entered, and how far its place varies on this machine."""

    entered: Entered
    known: Knowledge
    units: tuple
    group: str
    test: str
    place: tuple


OWN, MODEL, NOTHING = "own history", "other machines of the model", "usual range only"
OTHER_SETTINGS = "own history, sweeps at other settings"


def cases(steps, rng):
    """Yield a Case for each reading, in the order in which they were entered; each sweep once more at other settings.

    rng  chooses the settings
    """
    own, alike = defaultdict(lambda: deque(maxlen=INSPECTIONS)), defaultdict(deque)
    for step in steps:
        mine = [one for readings in own[step.place] for one in readings]
        others = [one for place, readings in alike[step.alike] if place != step.place for one in readings]
        now = []
        for one in step.readings:
            yield _case(step, one, mine, others, now)
            now.append(one)
        for sweep in _at_other_settings(step, rng) if mine else ():
            for number, one in enumerate(sweep):
                yield replace(_case(step, one, mine, others, sweep[:number]), group=OTHER_SETTINGS)
        own[step.place].append(step.readings)
        alike[step.alike].append((step.place, step.readings))
        while len(alike[step.alike]) > INSPECTIONS + 1:
            alike[step.alike].popleft()


def _case(step, one, mine, others, now):
    slot = one.read.slot
    compared, group, earlier = mine, OWN, _in_rows_of_today(step, one, mine, now)
    if not _has(earlier, slot):
        compared, group, earlier = others, MODEL, _in_rows_of_today(step, one, others, now)
    if not _has(earlier, slot):
        group = NOTHING
    here = [other.read for other in now if other.dimension == one.dimension]
    ranges = ranges_of(step.test, slot[0], slot[2])
    is_set = slot[2] in get_test(step.test).columns_set_in(slot[0])
    known = knowledge_of(slot, earlier, here, ranges, of_model=group == MODEL, is_linear=one.is_linear, is_set=is_set)
    used = {other.typed.unit for other in (*compared, *now)}
    units = tuple(sorted(_units(step.test, slot), key=lambda unit: unit not in used))
    return Case(one, known, units, group, step.test, (*step.place, *slot))


def _at_other_settings(step, rng):
    """Yield each sweep of a step, read at as many settings: its own first and last, the others chosen anew between."""
    for table in get_test(step.test).tables:
        columns = [column.key for column in table.columns]
        rows = defaultdict(dict)
        for one in step.readings:
            field, row, column = one.read.slot
            if field == table.key:
                rows[row][column] = one
        points = [cells for cells in rows.values() if len(cells) == len(columns)]
        if len(table.sets) == 1 and len(columns) == 2 and len(points) > 2:
            yield list(_resampled(points, *columns, rng))


def _resampled(points, set_column, read_column, rng):
    """Yield (set, read) entries at other settings in the same order, on straight lines between the points."""
    curve = sorted((float(cells[set_column].typed.digits), float(cells[read_column].typed.digits)) for cells in points)
    ends = curve[0][0], curve[-1][0]
    settings = sorted([*ends, *(rng.uniform(*ends) for _ in points[2:])])
    falls = points[0][set_column].read.value > points[-1][set_column].read.value
    for cells, setting in zip(points, reversed(settings) if falls else settings, strict=True):
        yield _with_number(cells[set_column], setting)
        yield _with_number(cells[read_column], interp(setting, *zip(*curve, strict=True)))


def _with_number(one, number):
    """Return an entry with another number, to the same digits after its point."""
    typed = one.typed.with_digits(f"{number:.{len(one.typed.digits.partition('.')[2])}f}")
    return replace(one, typed=typed, read=replace(one.read, value=typed.value))


def _in_rows_of_today(step, one, before, now):
    earlier = [other.read for other in before if other.dimension == one.dimension]
    here, sets = [other.read for other in now], get_test(step.test).columns_set_in(one.read.slot[0])
    return in_rows_of_today(one.read.slot, earlier, here, sets, [other.read for other in before])


def _has(reads, slot):
    return any(read.slot == slot for read in reads)


def _units(test, slot):
    test = get_test(test)
    columns = {(table.key, spec.key): spec for table in test.tables for spec in table.columns}
    return (columns | {(spec.key, ""): spec for spec in test.readings})[slot[0], slot[2]].units
