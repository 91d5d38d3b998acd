"""Set what a class of procedures may leave open; another person than who proposed it carries it out."""

from django.db import transaction

from fleet.changes import record_created
from inspections.deciding.second_person import WHY_SECOND_FOR_POLICY, refuse_alone
from inspections.errors import Refused
from inspections.models import EvidencePolicy
from inspections.models.limit_sources import names_something
from inspections.planning.interval_evidence import POLICIES

LOWEST_CONFIDENCE = 0.8  # below this an upper bound says little; common practice, no source


def refuse_unfit_policy(*, code, most_share, confidence, source):
    """Raise Refused, with what is accepted, for a policy that cannot be set."""
    if code not in POLICIES:
        raise Refused(f"“{code}” is no class of procedures. Accepted: {', '.join(POLICIES)}.")
    if not 0 < most_share < 0.5:
        raise Refused("Accepted as the most share of the time: more than 0 % and less than 50 %.")
    if not LOWEST_CONFIDENCE <= confidence < 1:
        raise Refused(f"Accepted as the confidence: {100 * LOWEST_CONFIDENCE:.0f} % or more, and less than 100 %.")
    if not names_something(source):
        raise Refused("A policy names its source: the paper or the meeting that decided it, with its date.")


@transaction.atomic
def set_evidence_policy(code, *, most_share, confidence, source, reason, by, at, proposed_by=None):
    """Set the policy of a class for dossiers drafted from now on. Raise SecondPersonNeeded without another person."""
    refuse_unfit_policy(code=code, most_share=most_share, confidence=confidence, source=source)
    refuse_alone(WHY_SECOND_FOR_POLICY, by=by, proposed_by=proposed_by)
    policy = EvidencePolicy.objects.create(
        code=code, most_share=most_share, confidence=confidence, source=source.strip(), reason=reason.strip()[:300],
        proposed_by=proposed_by, by=by, at=at,
    )  # fmt: skip
    record_created([policy], by=by, at=at)
    return policy
