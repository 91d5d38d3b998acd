"""Setting what a class of procedures may leave open, as a decision of two persons; see inspections.proposals.acts."""

from fleet.place_format import NEUTRAL, number_text, using
from inspections.actions.evidence_policies import refuse_unfit_policy, set_evidence_policy
from inspections.deciding.second_person import WHY_SECOND_FOR_POLICY
from inspections.errors import Refused
from inspections.models import IntervalDossier, Proposal
from inspections.planning.interval_evidence import POLICIES
from inspections.schedule.evidence_policies import policies_in_force


class SettingPolicy:
    """Sets the policy of one class for dossiers that are drafted afterwards."""

    act = Proposal.Act.POLICY
    site = None
    links = {}

    def __init__(self, code, *, most_share, confidence, source):
        self.code, self.asked = code, {"most_share": most_share, "confidence": confidence, "source": source}
        self.subject = f"policy of {code}"
        with using(NEUTRAL):
            words = f"at most {percent(most_share)} of the time, at {percent(confidence)} confidence"
        title = POLICIES[code].title if code in POLICIES else code
        self.title = f"Policy of dossiers, class “{title}”: {words}; {source}"[:300]
        self.asked["code"] = code

    @classmethod
    def of(cls, proposal):
        return cls(**proposal.asked)

    def hold(self):
        """Nothing is changed by it but what it adds."""

    @using(NEUTRAL)
    def grounds(self):
        """The policy that counts now, and what the dossiers in force were allowed."""
        now = policies_in_force().get(self.code)
        allowed = IntervalDossier.objects.in_force().filter(policy=self.code).values_list("most_share", flat=True)
        return {
            "Policy now": {
                "At most": f"{percent(now.most_share)} of the time" if now else "none",
                "Confidence": percent(now.confidence) if now else "none",
                "Source": now.source if now else "none",
            },
            "Dossiers in force, which keep what they were allowed": {
                "Number": str(len(allowed)),
                "Most that one of them was allowed": percent(max(allowed)) if allowed else "none",
            },
        }

    def check(self):
        refuse_unfit_policy(**self.asked)
        now = policies_in_force()[self.code]
        if (now.most_share, now.confidence, now.source) == tuple(
            self.asked[name] for name in ("most_share", "confidence", "source")
        ):
            raise Refused("This is the policy in force already.")

    def why_second(self, by):
        return WHY_SECOND_FOR_POLICY

    def do(self, *, reason, by, at, proposed_by=None):
        set_evidence_policy(**self.asked, reason=reason, by=by, at=at, proposed_by=proposed_by)


def percent(share):
    return f"{number_text(round(100 * share, 6))} %"
