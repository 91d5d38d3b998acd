"""Add and end planning rules, and move the planned inspections to the dates that follow."""

from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from fleet.changes import correction_entries, record_created, recording
from fleet.models import ChangeEntry
from fleet.place_format import day_text
from inspections.actions.holding import hold_procedures
from inspections.errors import Refused
from inspections.models import Inspection, PlanningRule, Procedure, Stage
from inspections.models.limit_sources import names_something
from inspections.models.planning_rules import COLUMN_OF
from inspections.schedule.required_skills import refuse_unfit_skills
from inspections.schedule.rhythms import rule_tables
from inspections.schedule.rule_effects import Effects, effects_of

AT_ONCE = 200
DATES = ("due_on", "opens_on", "closes_on")
LONGEST_REASON = 300
RULE_ENDED = "Not planned here any more: the rule that planned it has ended."


@dataclass(frozen=True, slots=True)
class Moved:
    """What carrying out rules did: how many planned inspections moved, were ended, or stayed where they were."""

    earlier: int = 0
    later: int = 0
    window: int = 0
    ended: int = 0
    kept: int = 0

    def __add__(self, other):
        pairs = zip(self.counts, other.counts, strict=True)
        return Moved(*(one + more for one, more in pairs))

    @property
    def counts(self):
        return (self.earlier, self.later, self.window, self.ended, self.kept)

    @property
    def words(self):
        """A sentence for the page."""
        if not any(self.counts):
            return "No planned inspection moved."
        said = (
            (self.earlier, "moved to an earlier date"), (self.later, "moved to a later date"),
            (self.window, "got another window"), (self.ended, "ended, as the procedure is not planned there"),
            (self.kept, "stayed where they were: planned by a person, or overdue"),
        )  # fmt: skip
        return f"Planned inspections: {'; '.join(f'{number} {words}' for number, words in said if number)}."


@transaction.atomic
def add_planning_rule(
    *, procedure, reach, from_date, reason, reference, source, by, at, target=None, skills=(), **fields
):
    """Add a rule; it ends the earlier one for the same machines on its first day. Return it and what Moved.

    target  the machine, model, area or site, or the code of the safety feature; None for all machines
    skills  names of what somebody must be confirmed for to be booked and to sign there

    From its first day the planned inspections have its dates; where that day has come they move now. Raise Refused with
    what is accepted.
    """
    refuse_unfit_rule(from_date=from_date, today=timezone.localdate(at), reason=reason, reference=reference, **fields)
    refuse_unfit_skills(skills, is_planned=fields.get("is_planned", True))
    hold_procedures([procedure.pk])
    column = COLUMN_OF[reach]
    rule = PlanningRule(
        procedure=procedure, reach=reach, from_date=from_date, reason=reason.strip(), reference=reference.strip(),
        source=source, by=by, at=at, skills=", ".join(skills), **({column: target} if column else {}), **fields,
    )  # fmt: skip
    _end_earlier(rule, by=by, at=at)
    rule.save()
    record_created([rule], by=by, at=at)
    return rule, carry_out_rules(today=timezone.localdate(at), by=by, at=at)


@transaction.atomic
def end_planning_rule(rule, *, until_date, reason, by, at):
    """End a rule: it is not in force on `until_date` and after. Return what Moved. Raise Refused if it has an end."""
    if not names_something(reason):
        raise Refused(f"A rule ends with a reason; got “{reason.strip()}”. Say why it should no longer count.")
    today = timezone.localdate(at)
    if until_date < max(rule.from_date, today):
        first = day_text(max(rule.from_date, today))
        raise Refused(f"{rule} cannot end on {day_text(until_date)}. Accepted: {first} or a later day.")
    hold_procedures([rule.procedure_id])
    if not _end(rule, until_date, reason, by=by, at=at):
        raise Refused(f"{rule} has an end date already. Add a new rule if another should count.")
    return carry_out_rules(today=today, by=by, at=at)


@transaction.atomic
def carry_out_rules(*, today, at, by=None):
    """Move the planned inspections by the rules that began or ended by `today`. Return what Moved. Safe to repeat.

    What is booked, in progress or overdue stays. An inspection that is planned no longer is void, with the rule as its
    reason.
    """
    waiting = PlanningRule.objects.to_carry_out(today)
    moved = Moved()
    for procedure in Procedure.objects.filter(pk__in=waiting.values("procedure")).order_by("pk"):
        hold_procedures([procedure.pk])
        effects = pending_effects(procedure, today)
        moved += _write(effects, by=by, at=at)
        rows = PlanningRule.objects.filter(procedure=procedure)
        rows.filter(begun_at=None, from_date__lte=today).update(begun_at=at)
        rows.filter(stopped_at=None, until_date__lte=today).update(stopped_at=at)
    return moved


def pending_effects(procedure, today) -> Effects:
    """What carrying out the rules of a procedure would do now."""
    before = rule_tables([procedure], PlanningRule.objects.followed())[procedure.pk]
    after = rule_tables([procedure], PlanningRule.objects.in_force(today))[procedure.pk]
    return effects_of(procedure, before, after, today)


def refuse_unfit_rule(*, from_date, today, reason, reference, interval_months=None, interval_days=None, **fields):
    """Raise Refused, with what is accepted, for a rule that cannot be added."""
    if from_date < today:
        raise Refused(f"{day_text(from_date)} is in the past. Accepted: {day_text(today)} or a later day.")
    for text, name in ((reason, "reason"), (reference, "reference of its source")):
        if not names_something(text):
            raise Refused(f"A rule needs the {name}; got “{text.strip()}”. Name it, with edition and page or date.")
    given = [one for one in (interval_months, interval_days) if one is not None]
    if len(given) != (1 if fields.get("is_planned", True) else 0):
        raise Refused("A rule has an interval in months or in days, one of the two; one that says “not planned” none.")


def _end_earlier(rule, *, by, at):
    """End what counts for the same machines already, on the first day of the new rule."""
    for earlier in PlanningRule.objects.of_scope(rule).filter(until_date=None):
        if earlier.from_date > rule.from_date:
            raise Refused(
                f"{earlier} begins on {day_text(earlier.from_date)}, later than the new one. End it first, or choose "
                f"{day_text(earlier.from_date)} or a later day."
            )
        _end(earlier, rule.from_date, f"Replaced by a rule from {rule.from_date.isoformat()}", by=by, at=at)


def _end(rule, until_date, reason, *, by, at):
    fields = {"until_date": until_date, "ended_reason": reason.strip()[:LONGEST_REASON], "ended_by": by, "ended_at": at}
    with recording(rule, by=by, at=at):
        return PlanningRule.objects.filter(pk=rule.pk, until_date=None).update(**fields)


def _write(effects, *, by, at):
    earlier = later = window = ended = 0
    for some in _batches(effects.moves):
        moves = _still_planned(some, lambda one: one.inspection)
        earlier += sum(one.is_earlier for one in moves)
        later += sum(one.is_later for one in moves)
        window += sum(not one.is_earlier and not one.is_later for one in moves)
        _store([(one.inspection, {name: getattr(one, name) for name in DATES}) for one in moves], by=by, at=at)
    for some in _batches(effects.ended):
        ending = _still_planned(some, lambda one: one[0])
        _store([(one, _void(rhythm, by, at)) for one, rhythm in ending], by=by, at=at)
        ended += len(ending)
    return Moved(earlier, later, window, ended, effects.kept)


def _batches(found):
    return (found[first : first + AT_ONCE] for first in range(0, len(found), AT_ONCE))


def _still_planned(found, inspection_of):
    """Lock some planned inspections, and keep those that nobody booked, moved or began since they were read."""
    keys = [inspection_of(one).pk for one in found]
    held = Inspection.objects.select_for_update(no_key=True).filter(pk__in=keys, stage=Stage.PLANNED)
    due = dict(held.order_by("pk").values_list("pk", "due_on"))
    return [one for one in found if due.get(inspection_of(one).pk) == inspection_of(one).due_on]


def _void(rhythm, by, at):
    reason = f"Not planned here any more, by planning rule {rhythm.rule.number}." if rhythm.rule else RULE_ENDED
    return {"stage": Stage.VOID, "void_reason": reason, "voided_by": by, "voided_at": at}


def _store(changes, *, by, at):
    """Write new values of planned inspections that are locked, each with an entry of who, when, before and after."""
    if not changes:
        return
    of_record = [
        (one, {name: value for name, value in fields.items() if not name.startswith("voided_")})
        for one, fields in changes
    ]
    ChangeEntry.objects.bulk_create(correction_entries(of_record, by=by, at=at), batch_size=AT_ONCE)
    for inspection, fields in changes:
        for name, value in fields.items():
            setattr(inspection, name, value)
    Inspection.objects.bulk_update([one for one, _ in changes], list(changes[0][1]), batch_size=AT_ONCE)
