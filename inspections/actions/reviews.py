"""Record what a person judged for the retirement review, and the weights by which a site ranks."""

from django.db import transaction

from fleet.models import Machine
from inspections.concurrent_edits import NOT_TOLD
from inspections.deciding.grounds import refuse_if_changed
from inspections.deciding.grounds.of_judgement import judgement_grounds
from inspections.errors import Refused
from inspections.models import CriterionJudgement, ReviewWeights
from inspections.retirement.gathering import review_of
from inspections.review import DEFAULT_WEIGHTS, HAZARD_WEIGHTS


@transaction.atomic
def judge_criterion(machine, criterion, *, answer, reason, by, at, shown=NOT_TOLD):
    """Answer one criterion for a machine with a reason; the latest answer counts, earlier ones stay.

    Raise GroundsChanged if the criterion was answered otherwise since the page was shown.
    """
    if not reason.strip():
        raise Refused(f"State why criterion {criterion} is {answer} for machine {machine}.")
    if shown is not NOT_TOLD:
        # Held, so that two who judge the same machine come one after the other.
        machine = Machine.objects.select_for_update(no_key=True, of=("self",)).with_place().get(pk=machine.pk)
        refuse_if_changed(shown, judgement_grounds(machine, criterion, review_of(machine, machine.site.date_of(at))))
    return CriterionJudgement.objects.create(
        machine=machine, criterion=criterion, answer=answer, reason=reason.strip(), by=by, at=at
    )


@transaction.atomic
def weigh_review(site, *, hazards, burden, reason, by, at):
    """Set the weights by which a site ranks its machines, with a reason; earlier ones stay on record.

    hazards, burden  Decimal by code, every hazard and every part, 0 to 100 with one digit after the point at most
    """
    if not reason.strip():
        raise Refused(f"State why {site} needs other weights: the review and its papers name the reason.")
    for given, wanted in ((hazards, HAZARD_WEIGHTS), (burden, DEFAULT_WEIGHTS)):
        if set(given) != set(wanted):
            raise Refused(f"Weights are needed for {', '.join(wanted)}; got {', '.join(given)}.")
        if bad := [code for code, value in given.items() if not 0 <= value <= 100 or value * 10 % 1]:
            raise Refused(f"A weight is 0 to 100 with one digit after the point at most; not so: {', '.join(bad)}.")
    if not any(burden.values()):
        raise Refused("At least one part of the burden needs a weight above 0.")
    weights = {
        name: {code: str(value) for code, value in given.items()}
        for name, given in (("hazards", hazards), ("burden", burden))
    }
    return ReviewWeights.objects.create(site=site, **weights, reason=reason.strip(), by=by, at=at)
