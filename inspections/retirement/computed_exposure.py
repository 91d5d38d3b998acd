"""What the computed gas circuits of machines leave open, as evidence for the retirement review."""

from collections import defaultdict
from dataclasses import dataclass

from django.urls import reverse

from fleet.catalogue import HAZARDS, Hazard
from fleet.models import CoverHazard, MachineCover
from inspections.review import CircuitFact, OpenHazard


def circuit_facts(ids, on):
    """Map machines to what their circuits leave open, for those whose cover was computed by the day `on`; two queries.

    ids  machines as keys, or as a subquery of them. Machines that share a circuit share the fact.
    """
    covers = MachineCover.objects.computed().filter(machine__in=ids, on__lte=on).order_by()
    of_machine = {machine: (cover, day) for machine, cover, day in covers.values_list("machine", "cover", "on")}
    hazards, facts = _open_hazards({cover for cover, _ in of_machine.values()}), {}
    for key in set(of_machine.values()):
        facts[key] = CircuitFact(key[1], tuple(hazards[key[0]]))
    return {machine: facts[key] for machine, key in of_machine.items()}


def _open_hazards(covers):
    found = defaultdict(list)
    rows = CoverHazard.objects.filter(cover__in=covers, open__gt=0).order_by("cover", "pk")
    for cover, *row in rows.values_list("cover", "hazard", "open", "likely", "closable", "worst"):
        found[cover].append(OpenHazard(*row))
    return found


@dataclass(frozen=True, slots=True)
class ExposureLine:
    """A hazard that the circuit leaves open: whether it counts in the hazard weight, why, and where its rows are."""

    hazard: Hazard
    causes: int
    rare: int
    closable: int
    worst: str
    counts: str
    url: str


def exposure_lines(machine, review, weights):
    """Return what the computed circuit of a reviewed machine leaves open, and how each enters the hazard weight."""
    if not review.computed_hazards:
        return []
    page = reverse("fleet:machine_cover", args=[machine.pk])
    return [
        ExposureLine(
            hazard=HAZARDS[each.code],
            causes=each.causes,
            rare=each.causes - each.likely,
            closable=each.closable,
            worst=each.worst,
            counts=_counts(each, review, weights),
            url=f"{page}?hazard={each.code}&status=open",
        )
        for each in review.computed_hazards
    ]


def _counts(each, review, weights):
    if each.code in review.hazards:
        met = [a.criterion.code for a in review.absolute_met + review.relative_met if each.code in a.criterion.hazards]
        return f"counted once, with {', '.join(met)}"
    if each.code in review.added_hazards:
        return f"adds {weights.hazards[each.code]:g}"
    return "adds nothing: no missing safety feature closes it" if each.likely else "adds nothing: its causes are rare"
