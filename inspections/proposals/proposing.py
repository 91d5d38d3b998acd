"""Decide alone, or propose and let another person confirm."""

from django.db import transaction

from fleet.acting.scope import journaled
from fleet.changes import record_created, recording
from inspections.concurrent_edits import NOT_TOLD
from inspections.deciding.grounds import digest_of_grounds, refuse_if_changed
from inspections.errors import Refused
from inspections.models import Proposal
from inspections.proposals.acts import act_of

State = Proposal.State


@journaled
@transaction.atomic
def decide(act, *, reason, by, at, shown=NOT_TOLD):
    """Do it, or where a second person is needed keep it as a proposal, which is returned.

    shown  grounds that the page showed

    Raise Refused without a reason or while another proposal about the same waits, GroundsChanged with what changed.
    """
    act.hold()
    grounds = act.grounds()
    refuse_if_changed(shown, grounds)
    reason = reason.strip()
    if not reason:
        raise Refused(f"{act.title}: give a reason. It is saved with the decision.")
    act.check()
    waiting = Proposal.objects.waiting().filter(subject=act.subject).select_related("proposed_by").first()
    if waiting:
        raise Refused(
            f"{waiting.proposed_by} has already proposed this: “{waiting}”. Confirm or decline that proposal first."
        )
    why = act.why_second(by)
    if why:
        return _propose(act, grounds, why, reason=reason, by=by, at=at)
    act.do(reason=reason, by=by, at=at)
    return None


@journaled
@transaction.atomic
def confirm_proposal(proposal, *, by, at):
    """Do what another person proposed. Raise Refused for its author, for who may not do it, and once it is settled.

    Raise GroundsChanged if what it rested on is no longer so.
    """
    refuse_settling(proposal, by)
    act = act_of(proposal)
    act.hold()
    _settle(proposal, State.CONFIRMED, by=by, at=at)
    refuse_if_changed(proposal.grounds, act.grounds())
    act.check()
    words = f"{proposal.reason} Proposed by {proposal.proposed_by}, confirmed by {by}."
    act.do(reason=words, by=by, at=at, proposed_by=proposal.proposed_by)


@journaled
@transaction.atomic
def decline_proposal(proposal, *, reason, by, at):
    """Settle a proposal without doing it. Raise Refused as for confirming it, and without a reason."""
    refuse_settling(proposal, by)
    if not reason.strip():
        raise Refused(f"State why “{proposal}” is declined: {proposal.proposed_by} will read the reason.")
    _settle(proposal, State.DECLINED, by=by, at=at, reason=reason.strip()[:300])


@journaled
@transaction.atomic
def take_back_proposal(proposal, *, by, at):
    """The author takes a proposal back. Raise Refused for anybody else, and once it is settled."""
    if proposal.proposed_by_id != by.pk:
        raise Refused(
            f"“{proposal}” was proposed by {proposal.proposed_by}; only this person can take it back. You can "
            "decline it."
        )
    _settle(proposal, State.TAKEN_BACK, by=by, at=at)


def refuse_settling(proposal, by):
    """Raise Refused, with the sentence that a page shows, if `by` is not the second person that it waits for."""
    if not proposal.is_waiting:
        raise Refused(f"“{proposal}” was already {proposal.state} by {proposal.settled_by}.")
    if proposal.proposed_by_id == by.pk:
        raise Refused(f"You proposed “{proposal}” yourself. Another person confirms or declines it.")
    if proposal.draft_id or proposal.dossier_id:
        act_of(proposal).refuse_second(by)
    if not Proposal.objects.confirmable_by(by).filter(pk=proposal.pk).exists():
        raise Refused(f"You cannot confirm “{proposal}”: it needs a person with the right to do this themselves.")


def _propose(act, grounds, why, *, reason, by, at):
    proposal = Proposal.objects.create(
        act=act.act, subject=act.subject, title=act.title, site=act.site, asked=act.asked, reason=reason[:300], why=why,
        grounds=grounds, digest=digest_of_grounds(grounds), proposed_by=by, proposed_at=at, **act.links,
    )  # fmt: skip
    record_created([proposal], by=by, at=at)
    return proposal


def _settle(proposal, state, *, by, at, reason=""):
    with recording(proposal, by=by, at=at):
        settled = {"state": state, "settled_by": by, "settled_at": at, "settled_reason": reason}
        if not Proposal.objects.waiting().filter(pk=proposal.pk).update(**settled):
            proposal.refresh_from_db()
            raise Refused(f"“{proposal}” was already {proposal.state} by {proposal.settled_by}.")
    proposal.refresh_from_db()
