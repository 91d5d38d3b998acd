"""The ranking of the retirement review from kept reviews: the same places as `inspections.review.rank` gives."""

from dataclasses import dataclass
from functools import cached_property

from fleet.models import Machine, Site
from inspections.models.querysets.kept_rows import STEP_COLUMNS
from inspections.retirement.weights import weights_of_sites
from inspections.review import CRITERIA, EQUAL, STEPS, Conclusion

CONCLUSIONS = tuple(Conclusion)


@dataclass(frozen=True, slots=True)
class ShownCriterion:
    """A criterion among those of a kept review."""

    criterion: object


@dataclass(frozen=True, slots=True)
class ShownReview:
    """What a list shows of a review."""

    conclusion: Conclusion
    is_provisional: bool
    absolute_met: tuple[ShownCriterion, ...]
    relative_met: tuple[ShownCriterion, ...]
    open_questions: tuple[ShownCriterion, ...]


@dataclass(frozen=True, slots=True)
class ShownPlace:
    place: int
    exposure: float
    burden: float
    decided_by: str


@dataclass(frozen=True, slots=True)
class KeptPlace:
    """A machine with its place and its review, with the names of a RankedMachine."""

    machine: Machine
    place: ShownPlace
    review: ShownReview

    @property
    def pk(self):
        return self.machine.pk


class KeptRanking:
    """The places of some kept reviews among one another; places are read once, in one query.

    rows  a queryset of KeptReview
    """

    def __init__(self, rows):
        self.rows = rows

    @cached_property
    def _found(self):
        """Return by steps (place, first machine, what put it after the machine before), and the numbers."""
        places, counts, before, total, provisional = {}, [0] * len(CONCLUSIONS), None, 0, 0
        for *steps, number, first, of_them in self.rows.by_place():
            steps = tuple(steps)
            places[steps] = (total + 1, first, _decided_by(before, steps))
            counts[steps[0]] += number
            total, provisional, before = total + number, provisional + of_them, steps
        return places, counts, provisional

    @property
    def counts(self):
        """Return each conclusion with the number of machines."""
        return list(zip(CONCLUSIONS, self._found[1], strict=True))

    @property
    def total(self):
        return sum(self._found[1])

    @property
    def provisional(self):
        return self._found[2]

    def weighed(self):
        """Return the weights in force at each site that has one of the machines."""
        sites = Site.objects.filter(pk__in=self.rows.order_by().values("site").distinct())
        return weights_of_sites(sites).values()

    def shown(self, rows):
        """Return some of the rows as KeptPlace objects, in their order."""
        rows = list(rows)
        machines = Machine.objects.with_place().in_bulk([row.pk for row in rows])
        return [self._shown(row, machines[row.pk]) for row in rows]

    def _shown(self, row, machine):
        place, first, decided_by = self._found[0][tuple(getattr(row, name) for name in STEP_COLUMNS)]
        decided_by = decided_by if row.asset_number == first else EQUAL
        met = (_answers(getattr(row, name)) for name in ("met_absolute", "met_relative", "open_questions"))
        review = ShownReview(CONCLUSIONS[row.conclusion], row.is_provisional, *met)
        return KeptPlace(machine, ShownPlace(place, row.exposure, row.burden, decided_by), review)


def _answers(codes):
    return tuple(ShownCriterion(CRITERIA[code]) for code in codes.split(",") if code)


def _decided_by(before, steps):
    if before is None:
        return ""
    return next((step for step, a, b in zip(STEPS, before, steps, strict=True) if a != b), EQUAL)
