"""Record what a person judged for the retirement review."""

from inspections.errors import Refused
from inspections.models import CriterionJudgement


def judge_criterion(machine, criterion, *, answer, reason, by, at):
    """Answer one criterion for a machine with a reason; the latest answer counts, earlier ones stay."""
    if not reason.strip():
        raise Refused(f"Say why criterion {criterion} is {answer} for machine {machine}.")
    return CriterionJudgement.objects.create(
        machine=machine, criterion=criterion, answer=answer, reason=reason.strip(), by=by, at=at
    )
