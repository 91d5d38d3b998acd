"""Record what a person judged for the retirement review."""

from django.db import transaction

from fleet.models import Machine
from inspections.concurrent_edits import NOT_TOLD
from inspections.deciding.grounds import refuse_if_changed
from inspections.deciding.grounds.of_judgement import judgement_grounds
from inspections.errors import Refused
from inspections.models import CriterionJudgement
from inspections.retirement.gathering import review_of


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
