"""The numbers of a report, counted from the current state of the machines (fleet/current_state).

One grouped query reads how many machines of an area have the same features; the standings follow from
`fleet.catalogue.feature_bits`. For a past day the history counts of those machines that changed since. Where the rows
cannot be used, the history of all is counted (queries.py); tests compare the two.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass

from django.db.models import Count

from fleet.catalogue.feature_bits import BIT, mask_of, standings
from fleet.catalogue.gaps import Standing
from fleet.late import np
from fleet.models import CurrentState, FeatureState
from fleet.models.querysets.current_states import any_bit

MOST_CHANGED = 20_000  # machines whose history is read row by row; of more the database counts it
STORED = {Standing.GAP: "current__gaps", Standing.DOUBT: "current__doubts"}


def stored_standing_q(features, standing):
    """Return the condition on machines that one of the features has that standing; None for one that no row holds."""
    path = STORED.get(standing)
    return path and any_bit(path, mask_of(feature.code for feature in features))


@dataclass(frozen=True, slots=True)
class Groups:
    """Machines with the same area and the same standings: arrays of one place for each group.

    areas  keys; masks  standing -> features that have it, as bits; counts  machines
    """

    areas: np.ndarray
    masks: dict[Standing, np.ndarray]
    counts: np.ndarray

    def of_feature(self, feature):
        """Return how many machines have each standing of a feature, as a mapping."""
        bit = BIT[feature.code]
        return {standing: int(self.counts[(masks & bit) != 0].sum()) for standing, masks in self.masks.items()}

    def with_gap(self, features):
        """Return how many machines have a gap among the features."""
        return int(self.counts[(self.masks[Standing.GAP] & mask_of(each.code for each in features)) != 0].sum())

    def by_area(self):
        """Return how many machines each area has."""
        return Counter(dict(zip(*_sums(self.areas, self.counts), strict=True)))

    def gaps_by_area(self, features):
        """Return, by area, how many machines have a gap among the features and how many gaps there are."""
        gaps = self.masks[Standing.GAP]
        number = sum(((gaps & BIT[feature.code]) != 0).astype(np.int64) for feature in features)
        number = number if features else np.zeros_like(self.counts)
        machines = dict(zip(*_sums(self.areas, self.counts * (number > 0)), strict=True))
        total = dict(zip(*_sums(self.areas, self.counts * number), strict=True))
        return {area: (machines[area], total[area]) for area in machines}


def grouped(machines, equipment):
    """Return the Groups of a queryset of machines, in one query. `equipment` maps the keys of models."""
    rows = machines.filter(current__isnull=False).order_by().values_list(
        "current__area", "current__model", "current__fitted", "current__not_fitted"
    )  # fmt: skip
    return _groups(list(rows.annotate(n=Count("*"))), equipment)


def few_changed_since(day):
    """Return whether at most MOST_CHANGED machines in use on a past day changed since; one query, which ends there."""
    return CurrentState.objects.changed_since(day)[: MOST_CHANGED + 1].count() <= MOST_CHANGED


def grouped_on(machines, equipment, day):
    """Return the Groups of a past day, in three queries. `machines` are annotated with `area_then`.

    The history is read only of machines of which a safety feature changed since; of the others the rows hold.
    """
    machines = machines.order_by()
    same = machines.filter(current__holds_from__lte=day)
    rows = same.values_list("area_then", "model", "current__fitted", "current__not_fitted").annotate(n=Count("*"))
    found, then = list(rows), _bits_then(day)
    changed = machines.filter(current__holds_from__gt=day).values_list("pk", "area_then", "model")
    found += [(area, model, *then.get(pk, (0, 0)), 1) for pk, area, model in changed]
    return _groups(found, equipment)


def _bits_then(day):
    """Return machine -> bits fitted, bits not fitted, of machines in use on `day` that changed since."""
    changed = CurrentState.objects.changed_since(day).values("machine")
    states = FeatureState.objects.on(day).filter(machine__in=changed, state__in=("fitted", "not fitted"))
    found = defaultdict(lambda: [0, 0])
    for machine, feature, state in states.order_by().values_list("machine", "feature", "state").iterator(2000):
        found[machine][state != "fitted"] |= BIT.get(feature, 0)
    return found


def _groups(found, equipment):
    """Return the Groups of rows: key of the area, key of the model, bits fitted, bits not fitted, machines."""
    judged = [standings(equipment[model], fitted, not_fitted) for _, model, fitted, not_fitted, _ in found]
    return Groups(
        areas=np.array([row[0] for row in found], dtype=np.int64),
        masks={one: np.array([each[one] for each in judged], dtype=np.int64) for one in Standing},
        counts=np.array([row[-1] for row in found], dtype=np.int64),
    )


def gaps_and_doubts(states, counted_mask):
    """Return how many of the current states have a gap in each feature, by code, and a doubt among `counted_mask`."""
    rows = states.order_by().values_list("gaps", "doubts")
    found = np.array(list(rows.annotate(n=Count("*"))), dtype=np.int64).reshape(-1, 3)
    gaps, doubts, counts = found.T
    of_feature = {code: int(counts[(gaps & bit) != 0].sum()) for code, bit in BIT.items()}
    return of_feature, int(counts[(doubts & counted_mask) != 0].sum())


def _sums(keys, values):
    """Return the different keys and the sum of the values of each, as lists."""
    different, place = np.unique(keys, return_inverse=True)
    sums = np.zeros(len(different), dtype=np.int64)
    np.add.at(sums, place, values)
    return different.tolist(), sums.tolist()
