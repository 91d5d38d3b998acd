"""How long a procedure takes on a machine model: from the department's own signed inspections, else from a rule."""

from dataclasses import dataclass
from statistics import median

from django.db.models import F, Window
from django.db.models.functions import RowNumber
from django.utils import timezone

from inspections.models import Inspection, PlanningRule
from inspections.planning.rule_choice import PLACE_IN_ORDER, Reach

LAST = 20  # signed inspections of a procedure on a model of which the median is taken


@dataclass(frozen=True, slots=True)
class Minutes:
    """value  minutes of work, None where nothing says;  number  signed inspections that it is the median of"""

    value: int | None
    source_words: str
    number: int = 0


NOTHING_SAYS = Minutes(None, "no signed inspection states its minutes, and no rule does")


def expected_minutes(pairs, on=None):
    """Return the Minutes of each pair of keys of a procedure and a machine model. Two queries at most.

    pairs  a set of (procedure_id, model_id)
    on     the date on which rules count, by default today

    What was signed comes before a rule; a retest repeats only what failed, so it is left out.
    """
    if not pairs:
        return {}
    signed, ruled = _signed_minutes(pairs), _ruled_minutes(pairs, on or timezone.localdate())
    return {pair: _of_signed(signed[pair]) if pair in signed else ruled.get(pair, NOTHING_SAYS) for pair in pairs}


def minutes_of_rule(rule):
    """The Minutes that a planning rule states."""
    return Minutes(rule.minutes, f"planning rule {rule.pk}: {rule.reference}")


def _of_signed(minutes):
    number = len(minutes)
    words = "the last signed inspection" if number == 1 else f"median of the last {number} signed inspections"
    return Minutes(round(median(minutes)), words, number)


def _signed_minutes(pairs):
    procedures, models = ({one[place] for one in pairs} for place in (0, 1))
    newest_first = Window(
        RowNumber(),
        partition_by=[F("procedure"), F("machine__model")],
        order_by=[F("signed_at").desc(), F("pk").desc()],
    )
    rows = (
        Inspection.objects.signed()
        .filter(procedure__in=procedures, machine__model__in=models, minutes__isnull=False, retests=None)
        .order_by()
        .annotate(place=newest_first)
        .filter(place__lte=LAST)
    )
    found = {}
    for procedure, model, minutes in rows.values_list("procedure", "machine__model", "minutes"):
        found.setdefault((procedure, model), []).append(minutes)
    return found


def _ruled_minutes(pairs, on):
    """Of the rules that state minutes for a whole model or for all machines, the most specific."""
    rows = PlanningRule.objects.in_force(on).filter(
        procedure__in={procedure for procedure, _ in pairs}, reach__in=(Reach.MODEL, Reach.ALL), minutes__isnull=False
    )
    found = {}
    # The rule that wins comes last, so that it stays.
    for rule in sorted(rows, key=lambda one: (-PLACE_IN_ORDER[Reach(one.reach)], one.from_date, one.pk)):
        said = minutes_of_rule(rule)
        for procedure, model in pairs:
            if procedure == rule.procedure_id and rule.machine_model_id in (None, model):
                found[procedure, model] = said
    return found
