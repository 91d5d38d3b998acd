"""How often each procedure is planned on a machine, and why; and when its components are due."""

from dataclasses import dataclass

from inspections.models import PlanningRule, Procedure
from inspections.planning.part_life import PartDue
from inspections.planning.rule_choice import Rhythm
from inspections.schedule.expected_minutes import Minutes, expected_minutes, minutes_of_rule
from inspections.schedule.parts_due import PartsWithLife
from inspections.schedule.rhythms import tables_in_force, traits_of

PARTS_SHOWN = 50


@dataclass(frozen=True, slots=True)
class PlanningLine:
    """One procedure on a machine: `rule` won (None: the procedure's own interval), `lost` reach the machine as well."""

    procedure: Procedure
    rhythm: Rhythm
    rule: PlanningRule | None
    lost: list[PlanningRule]
    goes_beyond: list[PlanningRule]
    minutes: Minutes

    @property
    def interval_words(self):
        if self.rhythm.is_planned:
            return str(self.rhythm.interval)
        return "not planned" if self.rule else "when needed"


@dataclass(frozen=True, slots=True)
class PlanningOfMachine:
    lines: list[PlanningLine]
    parts: list[tuple[object, object, PartDue]]


def machine_planning(machine, today) -> PlanningOfMachine:
    """Return a line for each procedure, and each component with a life with when it is due. Eight queries at most."""
    procedures = list(Procedure.objects.begun(today))
    tables = tables_in_force(procedures, today)
    features = set().union(*(table.features for table in tables.values()))
    traits = traits_of([machine], features, today)[machine.pk]
    rhythms = {pk: table.rhythm(traits) for pk, table in tables.items()}
    numbers = {one.number for rhythm in rhythms.values() for one in (rhythm.rule, *rhythm.lost) if one}
    rules = {one.pk: one for one in PlanningRule.objects.with_scope().filter(pk__in=numbers)}
    minutes = expected_minutes({(one.pk, machine.model_id) for one in procedures}, on=today)
    lines = [_line(one, rhythms[one.pk], rules, minutes[one.pk, machine.model_id]) for one in procedures]
    # What is planned comes first.
    lines.sort(key=lambda one: (not one.rhythm.is_planned, one.procedure.code))
    return PlanningOfMachine(lines, _parts(machine, today))


def _line(procedure, rhythm, rules, minutes):
    rule = rules[rhythm.rule.number] if rhythm.rule else None
    if minutes.value is None and rule and rule.minutes:
        minutes = minutes_of_rule(rule)
    return PlanningLine(
        procedure,
        rhythm,
        rule,
        [rules[one.number] for one in rhythm.lost],
        [rules[one.number] for one in rhythm.goes_beyond],
        minutes,
    )


def _parts(machine, today):
    """Components of the machine with their life and due date, the first due first."""
    found = PartsWithLife(today)
    rows = found.components().filter(machine=machine).order_by("due_month", "due_day", "pk")[:PARTS_SHOWN]
    return [(one, found.life_of(one), found.due(one)) for one in rows]
