"""Approving a draft of a procedure, as a decision of two persons; see inspections.proposals.acts."""

from datetime import date

from fleet.canonical import canonical_json, digest_of
from fleet.place_format import NEUTRAL, using
from inspections.actions.procedures import approve_draft, check_approval, refuse_writer
from inspections.deciding.second_person import WHY_SECOND_FOR_PROCEDURE
from inspections.models import Procedure, ProcedureDraft, Proposal
from inspections.procedure_editing.comparison import compare
from inspections.procedure_editing.draft_checks import shown_content

DIGITS = 16  # of a digest, as a page shows it
MOST_SHOWN = 300  # of one field; the digest covers every letter


class ApprovingProcedure:
    """Makes a draft the newest version of its procedure, from a date on. Nobody who wrote in it confirms it."""

    act = Proposal.Act.PROCEDURE
    site = None

    def __init__(self, draft, *, from_date):
        self.draft, self.from_date = draft, from_date
        self.subject = f"approval of draft {draft.pk}"
        self.title = (
            f"Approve “{draft.title}” ({draft.code}) as it is in draft {draft.pk}, from {from_date.isoformat()}"
        )
        self.links = {"draft": draft}
        self.asked = {"from_date": from_date.isoformat()}

    @classmethod
    def of(cls, proposal):
        return cls(proposal.draft, from_date=date.fromisoformat(proposal.asked["from_date"]))

    def hold(self):
        """Lock the draft and its procedure, so that neither gets another content or version meanwhile."""
        if self.draft.procedure_id:
            Procedure.objects.select_for_update(no_key=True).get(pk=self.draft.procedure_id)
        ProcedureDraft.objects.select_for_update(no_key=True).get(pk=self.draft.pk)
        self.draft.refresh_from_db()

    @using(NEUTRAL)
    def grounds(self):
        """Describe what the draft would change in the version in force, and both contents by their digests.

        The day from which it begins is no ground: it is asked for on the same page, and the title says it.
        """
        procedure = self.draft.procedure
        current = procedure and procedure.current_version()
        compared = compare(current.content if current else None, shown_content(self.draft.content))
        steps = {f"{step.title} ({step.code})": step.words for step in compared.changed}
        return {
            "Approval": {
                "Draft": digest_of(canonical_json(self.draft.content))[:DIGITS],
                "Instead of": f"version {current.number}, {current.digest[:DIGITS]}"
                if current
                else "no version: a new procedure",
            },
            "Changes": {change.label: _cut(change.after) for change in compared.head},
            "Steps": steps,
        }

    def check(self):
        check_approval(self.draft, from_date=self.from_date)

    def why_second(self, by):
        return WHY_SECOND_FOR_PROCEDURE

    def refuse_second(self, by):
        refuse_writer(self.draft, by)

    def do(self, *, reason, by, at, proposed_by=None):
        approve_draft(self.draft, from_date=self.from_date, by=by, at=at, proposed_by=proposed_by)


def _cut(text):
    return text if len(text) <= MOST_SHOWN else f"{text[:MOST_SHOWN]}…"
