"""The retirement review on Home; it reads the whole fleet, so that Home loads it after the rest."""

from django.urls import reverse

from config.home.items import SHOWN, Item
from fleet.models import Machine
from inspections.kept.reviews import reviews_hold
from inspections.models import KeptReview
from inspections.retirement.gathering import rank_machines
from inspections.review import Conclusion

WORDS = {Conclusion.OBSOLETE: "obsolete", Conclusion.CONSIDER: "worth considering for replacement"}


def retirement_items(person, today):
    """Return how many machines in use are obsolete by the review, and how many to consider for replacement."""
    if reviews_hold(today):
        kept = KeptReview.objects.visible_to(person).select_related("machine")
        return [_item(conclusion, *_kept(kept, conclusion)) for conclusion in WORDS]
    ranked = rank_machines(Machine.objects.visible_to(person).not_retired(), today)
    return [_item(conclusion, *_ranked(ranked, conclusion)) for conclusion in WORDS]


def _kept(rows, conclusion):
    of_it = rows.filter(conclusion=list(Conclusion).index(conclusion))
    return of_it.count(), [row.machine for row in of_it[:SHOWN]]


def _ranked(ranked, conclusion):
    found = [each.machine for each in ranked if each.review.conclusion is conclusion]
    return len(found), found[:SHOWN]


def _item(conclusion, number, first):
    judged = "machine is assessed as" if number == 1 else "machines are assessed as"
    text = f"{judged} {WORDS[conclusion]} in the retirement review"
    address = reverse("inspections:review", query={"conclusion": conclusion})
    return Item(number, text, address, "Show", tuple(map(_reasons, first)))


def _reasons(machine):
    return str(machine), reverse("inspections:review_machine", args=[machine.pk])
