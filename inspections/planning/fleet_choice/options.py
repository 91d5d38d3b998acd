"""The options of a machine: every useful set of alterations, a replacement, and retiring it."""

from collections.abc import Mapping, Sequence
from itertools import combinations

from inspections.planning.fleet_choice.dominance import undominated
from inspections.planning.fleet_choice.problem import Kind, Option

MOST_FEATURES = 8  # of one machine whose sets are tried, the most points first
Needs = Mapping[str, Sequence[frozenset[str]]]


def options_of(
    points: Mapping[str, int],
    needs: Needs,
    prices: Mapping[str, tuple[int, int]],
    *,
    replacement: int | None = None,
    may_retire: bool = False,
) -> tuple[Option, ...]:
    """Return what can be done to a machine, without the alterations that others of them dominate.

    points       exposure by hazard
    needs        by hazard the sets of features of which any one, altered as a whole, closes it
    prices       feature -> cost and minutes of its alteration; one without a price cannot be chosen
    replacement  cost of a new machine, which is taken to leave none of the hazards open; None where it is not known
    """
    alterations = undominated(_alterations(points, needs, prices), within_kind=False)
    whole, others = sum(points.values()), []
    if replacement is not None:
        others.append(Option(Kind.REPLACE, replacement, 0, whole))
    if may_retire:
        others.append(Option(Kind.RETIRE, 0, 0, whole))
    return (*alterations, *others)


def _alterations(points, needs, prices):
    """Yield an option for each set of features that closes something, each named in one order."""
    priced = {hazard: [need for need in sets if need and need <= prices.keys()] for hazard, sets in needs.items()}
    worth = {}
    for hazard, sets in priced.items():
        for feature in {feature for need in sets for feature in need}:
            worth[feature] = worth.get(feature, 0) + points.get(hazard, 0)
    features = sorted(worth, key=lambda feature: (-worth[feature], feature))[:MOST_FEATURES]
    for size in range(1, len(features) + 1):
        for chosen in combinations(sorted(features), size):
            closes = closed_by(frozenset(chosen), points, priced)
            cost = sum(prices[feature][0] for feature in chosen)
            minutes = sum(prices[feature][1] for feature in chosen)
            yield Option(Kind.ALTER, cost, minutes, closes, chosen)


def closed_by(chosen: frozenset[str], points: Mapping[str, int], needs: Needs) -> int:
    """Return the points of the hazards of which the chosen alterations hold a whole set."""
    return sum(points[hazard] for hazard in points if any(need <= chosen for need in needs.get(hazard, ())))
