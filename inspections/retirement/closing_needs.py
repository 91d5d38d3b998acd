"""Which alterations close which hazard of a reviewed machine."""

from collections import defaultdict
from functools import reduce

from fleet.catalogue import FEATURES
from fleet.models import CircuitCover, MachineCover
from inspections.review.closing import can_be_altered


def closers_by_machine(ids, on):
    """Map machines to hazard -> sets of features of which any one closes what the circuit leaves open; two queries.

    ids  machines as keys, or as a subquery of them. Only sets that can be retrofitted by the catalogue count.
    """
    rows = MachineCover.objects.computed().filter(machine__in=ids, on__lte=on).order_by()
    cover_of = dict(rows.values_list("machine", "cover"))
    stored = CircuitCover.objects.filter(pk__in=set(cover_of.values())).order_by().values_list("pk", "closing")
    closers = {pk: closers_of(closing) for pk, closing in stored}
    return {machine: closers[cover] for machine, cover in cover_of.items()}


def closers_of(closing):
    """Return hazard -> sets of features of which any one closes it, from the stored closing sets of a cover."""
    found = defaultdict(list)
    for each in closing.get("sets", ()):
        by_hazard = defaultdict(set)
        for feature, gaps in each["closes"].items():
            for hazard, *_ in gaps:
                by_hazard[hazard].add(feature)
        for hazard, features in by_hazard.items():
            if all(feature in FEATURES and FEATURES[feature].can_be_retrofitted for feature in features):
                found[hazard].append(frozenset(features))
    return {hazard: tuple(dict.fromkeys(sets)) for hazard, sets in found.items()}


def needs_of(review, closers):
    """Map each exposed hazard of a review to the sets of features of which any one, as a whole, closes it.

    Every criterion met that leaves the hazard open must go, and what the circuit leaves open as well. A hazard without
    a set is closed by no alteration.
    """
    by_circuit = {each.code for each in review.computed_hazards if each.closable}
    return {hazard: _sets(hazard, review, closers if hazard in by_circuit else None) for hazard in review.exposed}


def _sets(hazard, review, closers):
    met = [a.criterion for a in review.absolute_met + review.relative_met if hazard in a.criterion.hazards]
    if not all(can_be_altered(criterion) for criterion in met):
        return ()
    needed = reduce(frozenset.union, (frozenset([criterion.feature]) for criterion in met), frozenset())
    if closers is None:
        return (needed,) if needed else ()
    return tuple(dict.fromkeys(needed | features for features in closers.get(hazard, ())))
