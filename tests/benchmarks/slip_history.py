"""The readings of a demonstration in the order in which they were entered, and what was known before each of them."""

from collections import defaultdict, deque
from dataclasses import dataclass
from functools import cached_property

from fleet.catalogue.dimensions import find_unit
from inspections.at_bench.earlier_readings import INSPECTIONS, typed_of
from inspections.bench import get_test
from inspections.bench.slips import Knowledge, Read, Typed, knowledge_of
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


def cases(steps):
    """Yield a Case for each reading, in the order in which they were entered."""
    own, alike = defaultdict(lambda: deque(maxlen=INSPECTIONS)), defaultdict(deque)
    for step in steps:
        mine = [one for readings in own[step.place] for one in readings]
        others = [one for place, readings in alike[step.alike] if place != step.place for one in readings]
        now = []
        for one in step.readings:
            yield _case(step, one, mine, others, now)
            now.append(one)
        own[step.place].append(step.readings)
        alike[step.alike].append((step.place, step.readings))
        while len(alike[step.alike]) > INSPECTIONS + 1:
            alike[step.alike].popleft()


def _case(step, one, mine, others, now):
    slot = one.read.slot
    compared, group = mine, OWN
    if not _has(compared, one):
        compared, group = others, MODEL
    if not _has(compared, one):
        group = NOTHING
    earlier, here = (
        [other.read for other in several if other.dimension == one.dimension] for several in (compared, now)
    )
    ranges = ranges_of(step.test, slot[0], slot[2])
    known = knowledge_of(slot, earlier, here, ranges, of_model=group == MODEL, is_linear=one.is_linear)
    used = {other.typed.unit for other in (*compared, *now)}
    units = tuple(sorted(_units(step.test, slot), key=lambda unit: unit not in used))
    return Case(one, known, units, group, step.test, (*step.place, *slot))


def _has(readings, one):
    return any((other.read.slot, other.dimension) == (one.read.slot, one.dimension) for other in readings)


def _units(test, slot):
    test = get_test(test)
    columns = {(table.key, spec.key): spec for table in test.tables for spec in table.columns}
    return (columns | {(spec.key, ""): spec for spec in test.readings})[slot[0], slot[2]].units
