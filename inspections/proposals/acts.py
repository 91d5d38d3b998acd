"""Each decision that may need two persons: what it is about, what its page shows, who must agree, and doing it.

hold        lock what it changes, until the transaction ends, and reload it
grounds     what the page shows, see inspections.deciding.grounds
why_second  why `by` may not do it alone, empty when they may
check       raise Refused for what cannot be done at all
refuse_second  of a draft or a dossier: raise Refused if `by` wrote it
do          do it; `proposed_by` is the first person, None when one person decides alone
links       columns of the proposal that name what it is about
asked       what else it was asked for with, fit for JSON
"""

from inspections.actions.findings import close_finding, hold_machine_of
from inspections.actions.release import hold_release, release_machine
from inspections.actions.signing import amend_inspection, hold_inspection
from inspections.deciding.grounds.of_finding import finding_grounds
from inspections.deciding.grounds.of_record import record_grounds
from inspections.deciding.grounds.of_release import release_grounds
from inspections.deciding.release import essential_open, reasons_against_release
from inspections.deciding.retests import passing_retest_of
from inspections.deciding.second_person import why_second_for_amendment, why_second_for_closing, why_second_for_release
from inspections.errors import RecordFrozen, Refused, ReleaseRefused
from inspections.models import Proposal
from inspections.proposals.interval_acts import ApprovingInterval
from inspections.proposals.limit_acts import ConfirmingLimit, EndingLimit, SettingLimit, WithdrawingConfirmation
from inspections.proposals.policy_acts import SettingPolicy
from inspections.proposals.procedure_acts import ApprovingProcedure


class Releasing:
    act = Proposal.Act.RELEASE

    def __init__(self, machine, retest):
        self.machine, self.retest, self.site = machine, retest, machine.site
        self.subject = f"release of machine {machine.pk}"
        self.title = f"Release machine {machine} based on {retest}"
        self.links, self.asked = {"machine": machine, "inspection": retest}, {}

    @classmethod
    def of(cls, proposal):
        return cls(proposal.machine, proposal.inspection)

    def hold(self):
        hold_release(self.machine, self.retest)

    def grounds(self):
        return release_grounds(self.machine, self.retest)

    def check(self):
        reasons = reasons_against_release(self.machine, self.retest)
        if reasons:
            raise ReleaseRefused(reasons)

    def why_second(self, by):
        return why_second_for_release(self.machine, self.retest, list(essential_open(self.machine)), by)

    def do(self, *, reason, by, at, proposed_by=None):
        release_machine(self.machine, retest=self.retest, reason=reason, by=by, at=at, proposed_by=proposed_by)


class Amending:
    act = Proposal.Act.AMENDMENT

    def __init__(self, inspection, *, correction, step=None):
        self.inspection, self.step, self.correction = inspection, step, correction
        self.site = inspection.machine.site
        self.subject = f"amendment of inspection {inspection.pk}"
        self.title = f"Amend {inspection} of machine {inspection.machine}{f', {step}' if step else ''}"[:300]
        self.links = {"machine": inspection.machine, "inspection": inspection}
        self.asked = {"correction": correction, "step": step.pk if step else None}

    @classmethod
    def of(cls, proposal):
        step = proposal.inspection.steps.filter(pk=proposal.asked["step"]).first()
        return cls(proposal.inspection, correction=proposal.asked["correction"], step=step)

    def hold(self):
        hold_inspection(self.inspection)

    def grounds(self):
        return record_grounds(self.inspection)

    def check(self):
        if not self.correction.strip():
            raise RecordFrozen("An amendment needs both a correction and a reason.")

    def why_second(self, by):
        return why_second_for_amendment(self.inspection)

    def do(self, *, reason, by, at, proposed_by=None):
        words = {"correction": self.correction, "reason": reason[:300], "step": self.step}
        amend_inspection(self.inspection, **words, by=by, at=at, proposed_by=proposed_by)


class Closing:
    """Closes an essential finding; `reason` is the note of what was done, `coding` says why it was wrong."""

    act = Proposal.Act.CLOSING

    def __init__(self, finding, *, work_hours=None, **coding):
        self.finding, self.site = finding, finding.machine.site
        self.work_hours, self.coding = work_hours, coding
        self.subject = f"closing of finding {finding.pk}"
        self.title = f"Close “{finding}” of machine {finding.machine}"[:300]
        self.links = {"machine": finding.machine, "finding": finding}
        self.asked = {"work_hours": None if work_hours is None else str(work_hours), **coding}

    @classmethod
    def of(cls, proposal):
        return cls(proposal.finding, **proposal.asked)

    def hold(self):
        hold_machine_of(self.finding)

    def grounds(self):
        return finding_grounds(self.finding, passing_retest_of(self.finding))

    def check(self):
        if not self.finding.is_open:
            raise Refused(f"“{self.finding}” is already closed.")

    def why_second(self, by):
        return why_second_for_closing(self.finding, passing_retest_of(self.finding))

    def do(self, *, reason, by, at, proposed_by=None):
        words = {"note": reason, "work_hours": self.work_hours}
        close_finding(self.finding, **words, **self.coding, by=by, at=at, proposed_by=proposed_by)


LIMIT_ACTS = (SettingLimit, EndingLimit, ConfirmingLimit, WithdrawingConfirmation)
INTERVAL_ACTS = (ApprovingInterval, SettingPolicy)
ACTS = {kind.act: kind for kind in (Releasing, Amending, Closing, *LIMIT_ACTS, ApprovingProcedure, *INTERVAL_ACTS)}


def act_of(proposal):
    """The decision that a proposal is about, from its columns."""
    return ACTS[proposal.act].of(proposal)
