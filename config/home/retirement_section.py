"""The retirement review on Home; it reads the whole fleet, so that Home loads it after the rest."""

from django.urls import reverse

from config.home.items import SHOWN, Item
from fleet.models import Machine
from inspections.retirement.gathering import rank_machines
from inspections.review import Conclusion

WORDS = {Conclusion.OBSOLETE: "obsolete", Conclusion.CONSIDER: "worth considering for replacement"}


def retirement_items(person, today):
    """Return how many machines in use are obsolete by the review, and how many to consider for replacement."""
    ranked = rank_machines(Machine.objects.visible_to(person).not_retired(), today)
    return [_concluded(ranked, conclusion) for conclusion in WORDS]


def _concluded(ranked, conclusion):
    found = [each.machine for each in ranked if each.review.conclusion is conclusion]
    judged = "machine is assessed as" if len(found) == 1 else "machines are assessed as"
    text = f"{judged} {WORDS[conclusion]} in the retirement review"
    return Item(
        len(found),
        text,
        reverse("inspections:review", query={"conclusion": conclusion}),
        "Show",
        tuple(map(_reasons, found[:SHOWN])),
    )


def _reasons(machine):
    return str(machine), reverse("inspections:review_machine", args=[machine.pk])
