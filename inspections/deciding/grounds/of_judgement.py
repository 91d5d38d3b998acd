"""What the page shows on which a person answers a criterion of the retirement review."""

from fleet.place_format import NEUTRAL, using
from inspections.models import CriterionJudgement

LATEST = 20


@using(NEUTRAL)
def judgement_grounds(machine, criterion, review):
    """Describe the criterion, how it is answered now, and what was judged before; `review` is that of the machine."""
    answer = next(one for one in review.answers if one.criterion.code == criterion)
    grounds = {
        "Machine": {"Machine": str(machine), "Status": machine.status},
        f"Criterion {criterion}": {
            "Says": answer.criterion.says,
            "Answer": str(answer.status),
            "Reason": answer.reason,
        },
    }
    earlier = CriterionJudgement.objects.filter(machine=machine, criterion=criterion).select_related("by")
    for one in earlier[:LATEST]:
        grounds[f"Judged {one.at.isoformat()}"] = {"Answer": one.answer, "Reason": one.reason, "By": str(one.by)}
    return grounds
