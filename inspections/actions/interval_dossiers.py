"""Draft, approve and discard the dossier of an interval; compute its bound again, and withdraw it by itself."""

from django.db import transaction
from django.utils import timezone

from fleet.canonical import canonical_json, digest_of
from fleet.changes import record_created, recording
from fleet.place_format import day_text, number_text
from inspections.actions.holding import hold_procedures
from inspections.actions.planning_rules import add_planning_rule, end_planning_rule
from inspections.errors import Refused
from inspections.models import IntervalDossier, PlanningRule
from inspections.models.limit_sources import names_something
from inspections.models.planning_rules import MOST_MONTHS, MOST_WINDOW
from inspections.planning.rule_choice import Reach
from inspections.schedule.interval_data import Asked, binding_rules, bound_now, evidence_of, policy_of

State = IntervalDossier.State
BROKEN_BY_RULE = "A rule by law or by the manufacturer's instructions asks for more"


@transaction.atomic
def draft_dossier(asked: Asked, *, most_share, reason, by, at):
    """Freeze what the records say about an interval, as a draft that another person approves.

    Raise Refused, with what is accepted, for an interval beyond law or manufacturer, without data, and where the bound
    breaks the policy although the interval is longer than now.
    """
    today = timezone.localdate(at)
    policy = policy_of(asked.procedure, today)
    _refuse_unfit(asked, policy, most_share, reason, today)
    refuse_beyond_rules(asked, today)
    try:
        evidence = evidence_of(asked, policy, most_share, today)
    except ValueError:
        raise Refused(
            "From the days chosen there is no complete inspection of these machines that followed another one, so "
            "nothing is known about hidden failures. Choose earlier data, or keep the interval."
        ) from None
    refuse_too_weak(evidence)
    dossier = IntervalDossier.objects.create(
        procedure=asked.procedure, machine_model=asked.machine_model, interval_months=asked.interval_months,
        window_days=asked.window_days, data_from=asked.data_from, as_of=asked.as_of, policy=policy.code,
        most_share=most_share, confidence=policy.confidence, reason=reason.strip(), evidence=evidence,
        digest=digest_of(canonical_json(evidence)), drafted_by=by, drafted_at=at,
    )  # fmt: skip
    record_created([dossier], by=by, at=at)
    return dossier


@transaction.atomic
def discard_dossier(dossier, *, reason, by, at):
    """Discard a draft; it stays readable. Raise Refused once it is approved or discarded, and without a reason."""
    if not names_something(reason):
        raise Refused(f"State why {dossier} is discarded.")
    if not _end(dossier, State.DRAFT, State.DISCARDED, reason, by=by, at=at):
        raise Refused(f"{dossier} is {dossier.get_state_display().lower()}. Only a draft can be discarded.")


@transaction.atomic
def approve_dossier(dossier, *, from_date, by, at, proposed_by=None):
    """Make a draft a planning rule from a day on. Return what Moved.

    Raise Refused for its author, where a rule by law or manufacturer forbids it now, and where today's records break
    its policy.
    """
    refuse_author(dossier, by)
    hold_procedures([dossier.procedure_id])
    held = IntervalDossier.objects.select_for_update(no_key=True).get(pk=dossier.pk)
    today = timezone.localdate(at)
    refuse_approval(held, today)
    asked = asked_by(held)
    replaced = _rule_of_scope(asked)
    rule, moved = add_planning_rule(
        procedure=held.procedure, reach=asked.reach.value, target=held.machine_model, from_date=max(from_date, today),
        reason=held.reason, reference=reference_of(held), source="evidence", interval_months=held.interval_months,
        window_days=held.window_days, skills=_skills_kept(asked, replaced, today), by=by, at=at,
    )  # fmt: skip
    for earlier in IntervalDossier.objects.in_force().of_scope(held):
        _end(earlier, State.IN_FORCE, State.ENDED, f"Replaced by dossier {held.pk}", by=by, at=at)
    with recording(held, by=by, at=at):
        held.state, held.approved_by, held.approved_at, held.rule, held.replaced = (
            State.IN_FORCE, by, at, rule, replaced
        )  # fmt: skip
        held.save(update_fields=["state", "approved_by", "approved_at", "rule", "replaced"])
    return moved


@transaction.atomic
def watch_dossier(dossier, *, today, at):
    """Compute the bound of a dossier in force again. Return the reason if it was withdrawn or had ended, else ""."""
    held = IntervalDossier.objects.select_for_update(no_key=True).get(pk=dossier.pk)
    if not held.is_in_force:
        return ""
    if held.rule.until_date:
        reason = "Its planning rule was ended"
        _end(held, State.IN_FORCE, State.ENDED, reason, by=None, at=at)
        return reason
    bound = bound_now(held, today)
    with recording(held, by=None, at=at):
        held.watched_on, held.watched_share = today, bound and bound.share_upper
        held.save(update_fields=["watched_on", "watched_share"])
    reason = _why_withdrawn(held, bound, today)
    if reason:
        _withdraw(held, reason, today=today, at=at)
    return reason


def refuse_author(dossier, by):
    if dossier.drafted_by_id == by.pk:
        raise Refused(f"You drafted {dossier} yourself. Another person approves or declines it.")


def refuse_approval(dossier, today):
    """Raise Refused for what cannot be approved: no draft, beyond a rule, or a bound that today's records break."""
    if not dossier.is_draft:
        raise Refused(f"{dossier} is {dossier.get_state_display().lower()}. Only a draft can be approved.")
    refuse_beyond_rules(asked_by(dossier), today)
    reason = _why_withdrawn(dossier, bound_now(dossier, today), today)
    if reason:
        raise Refused(f"{reason}. Draft a new dossier with the data of today.")


def refuse_beyond_rules(asked, today):
    """Raise Refused for an interval beyond a rule by law or by the manufacturer's instructions."""
    binding = binding_rules(asked, today)
    if binding:
        named = "; ".join(
            f"rule {one.pk} ({one.get_source_display()}: {one.reference}) says {one.interval_words} for "
            f"{one.scope_words}" for one in binding[:5]
        )  # fmt: skip
        raise Refused(
            f"Evidence cannot go beyond the law or the manufacturer's instructions: {named}. Choose an interval within "
            "that for other machines, or have that rule changed by whoever made it."
        )


def refuse_too_weak(evidence):
    """Raise Refused where a longer interval would leave more open than the policy allows."""
    bound, policy = evidence["bound"], evidence["policy"]
    if bound["keeps"] or not evidence["hours"]["longer_on"]:
        return
    rate = "by nothing" if bound["rate_upper"] is None else f"by {number_text(bound['rate_upper'])} a year"
    raise Refused(
        f"The records do not bear this interval: the rate of hidden failures is bounded {rate} at "
        f"{100 * policy['confidence']:.0f} %, so one could stand {_percent(bound['share_upper'])} of the time; at most "
        f"{_percent(policy['most_share'])} is allowed. Choose a shorter interval, or wait for more inspections."
    )


def asked_by(dossier):
    """The interval that a dossier is about, as its data are asked for."""
    return Asked(
        dossier.procedure, dossier.machine_model, dossier.interval_months, dossier.window_days, dossier.data_from,
        dossier.as_of,
    )  # fmt: skip


def reference_of(dossier):
    return f"Dossier {dossier.pk}, data to {dossier.as_of.isoformat()}, SHA-256 {dossier.digest[:16]}"


def _why_withdrawn(dossier, bound, today):
    """Why a dossier cannot stand, as a sentence without its full stop; empty while it can."""
    if binding := binding_rules_beside(dossier, today):
        return f"{BROKEN_BY_RULE}: rule {binding[0].pk}, {binding[0].interval_words}"
    if not dossier.evidence["hours"]["longer_on"]:
        return ""  # it shortened the interval: falling back would only be worse
    if bound is None:
        return "No complete inspection of these machines followed another one in the time that is looked at"
    if bound.keeps(dossier.most_share):
        return ""
    return (
        f"The upper bound rose to {_percent(bound.share_upper)} of the time with a standing hidden failure; at most "
        f"{_percent(dossier.most_share)} is allowed"
    )


def binding_rules_beside(dossier, today):
    """The rules that forbid the interval of a dossier, all but its own."""
    return [one for one in binding_rules(asked_by(dossier), today) if one.pk != dossier.rule_id]


def _withdraw(dossier, reason, *, today, at):
    """End the rule, or put back what it had replaced, so that planned inspections get the dates of before."""
    _end(dossier, State.IN_FORCE, State.WITHDRAWN, reason, by=None, at=at)
    words = f"Dossier {dossier.pk} withdrew itself: {reason}"[:300]
    before = dossier.replaced
    day = max(today, dossier.rule.from_date)
    if before is None:
        end_planning_rule(dossier.rule, until_date=day, reason=words, by=None, at=at)
        return
    add_planning_rule(
        procedure=dossier.procedure, reach=before.reach, target=before.target, from_date=day, reason=words,
        reference=before.reference, source=before.source, is_planned=before.is_planned,
        interval_months=before.interval_months, interval_days=before.interval_days, window_days=before.window_days,
        minutes=before.minutes, skills=before.skill_names, by=None, at=at,
    )  # fmt: skip


def _rule_of_scope(asked):
    """The rule in force for the same machines, which a new one would end."""
    rows = PlanningRule.objects.filter(
        procedure=asked.procedure, reach=asked.reach.value, machine_model=asked.machine_model, until_date=None
    )
    return rows.first()


def _skills_kept(asked, replaced, today):
    """What the rule before it asked for: evidence about an interval says nothing about who may do the work."""
    every = PlanningRule.objects.in_force(today).filter(procedure=asked.procedure, reach=Reach.ALL.value)
    before = replaced or every.first()
    return before.skill_names if before and before.is_planned else ()


def _end(dossier, was, state, reason, *, by, at):
    fields = {"state": state, "ended_by": by, "ended_at": at, "ended_reason": reason.strip()[:300]}
    with recording(dossier, by=by, at=at):
        return IntervalDossier.objects.filter(pk=dossier.pk, state=was).update(**fields)


def _refuse_unfit(asked, policy, most_share, reason, today):
    if not 1 <= asked.interval_months <= MOST_MONTHS or not 0 <= asked.window_days <= MOST_WINDOW:
        raise Refused(f"Accepted: 1 to {MOST_MONTHS} months, on time within 0 to {MOST_WINDOW} days.")
    if not asked.data_from < asked.as_of <= today:
        raise Refused(
            f"The data are from a day before the last one, which is not after today, {day_text(today)}; got "
            f"{day_text(asked.data_from)} to {day_text(asked.as_of)}."
        )
    if not 0 < most_share <= policy.most_share:
        raise Refused(
            f"{_percent(most_share)} is not accepted. The policy for procedures of the class “{policy.title}” allows "
            f"{_percent(policy.most_share)}; a dossier may set less."
        )
    if not names_something(reason):
        raise Refused("A dossier needs a reason. State why another interval is wanted.")


def _percent(share):
    return f"{number_text(round(100 * share, 2))} %"
