"""Approving the dossier of an interval, as a decision of two persons; see inspections.proposals.acts."""

from datetime import date

from fleet.place_format import NEUTRAL, using
from inspections.actions.holding import hold_procedures
from inspections.actions.interval_dossiers import approve_dossier, refuse_author
from inspections.deciding.second_person import WHY_SECOND_FOR_INTERVAL
from inspections.errors import Refused
from inspections.models import IntervalDossier, Proposal

DIGITS = 16  # of a digest, as a page shows it


class ApprovingInterval:
    """Makes a dossier the planning rule of its machines, from a date on. Whoever drafted it cannot confirm it."""

    act = Proposal.Act.INTERVAL
    site = None

    def __init__(self, dossier, *, from_date):
        self.dossier, self.from_date = dossier, from_date
        self.subject = f"approval of dossier {dossier.pk}"
        self.title = f"Approve {dossier}, from {from_date.isoformat()}"[:300]
        self.links = {"dossier": dossier}
        self.asked = {"from_date": from_date.isoformat()}

    @classmethod
    def of(cls, proposal):
        return cls(proposal.dossier, from_date=date.fromisoformat(proposal.asked["from_date"]))

    def hold(self):
        """Lock the procedure and the dossier, so that neither gets another rule or state meanwhile."""
        hold_procedures([self.dossier.procedure_id])
        IntervalDossier.objects.select_for_update(no_key=True).get(pk=self.dossier.pk)
        self.dossier.refresh_from_db()

    @using(NEUTRAL)
    def grounds(self):
        """The frozen evidence in figures. What has changed since is looked at again when it is carried out."""
        evidence = self.dossier.evidence
        observed, bound, hours = evidence["observed"], evidence["bound"], evidence["hours"]
        return {
            "Dossier": {
                "Data": f"{evidence['data']['from']} to {evidence['data']['to']}, {self.dossier.digest[:DIGITS]}",
                "Machines": evidence["pool"]["words"],
                "Observed": f"{observed['failed']} failures in {observed['machine_years']} machine years",
            },
            "Bound": {
                "Rate, upper bound": f"{bound['rate_upper']} a year",
                "Share of time, upper bound": f"{bound['share_upper']}",
                "Allowed": f"{self.dossier.most_share}",
            },
            "Effect": {"Hours freed a year": f"{hours['freed']} on {hours['machines']} machines"},
        }

    def check(self):
        if not self.dossier.is_draft:
            raise Refused(
                f"{self.dossier} is {self.dossier.get_state_display().lower()}. Only a draft can be approved."
            )

    def why_second(self, by):
        return WHY_SECOND_FOR_INTERVAL

    def refuse_second(self, by):
        refuse_author(self.dossier, by)

    def do(self, *, reason, by, at, proposed_by=None):
        approve_dossier(self.dossier, from_date=self.from_date, by=by, at=at, proposed_by=proposed_by)
