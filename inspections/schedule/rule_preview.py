"""What a planning rule would do, before it is added or ended."""

from dataclasses import dataclass

from inspections.models import PlanningRule
from inspections.planning.rule_choice import RuleTable
from inspections.schedule.rhythms import rule_tables, traits_of_all
from inspections.schedule.rule_effects import Effects, effects_of

UNSAVED = 10**9  # the number of a rule that is not added yet: of two with one first day the later added wins


@dataclass(frozen=True, slots=True)
class RulePreview:
    """What follows if a rule counts from today.

    covered    machines on which it wins; outranked, machines that it reaches but where a more specific rule wins
    goes_beyond  of the covered ones, those where a rule by law or by the manufacturer's instructions asks for more
    drops_skills  of the covered ones, those where the rule of today asks for a skill that this one does not name
    """

    covered: int
    outranked: int
    goes_beyond: int
    drops_skills: int
    effects: Effects


def preview_of_adding(rule, today) -> RulePreview:
    """Return what adding a rule would do; `rule` is not saved. Seven queries at most, for any number of machines."""
    before = _table(rule.procedure, PlanningRule.objects.in_force(today))
    same = set(PlanningRule.objects.of_scope(rule).values_list("pk", flat=True))
    rule.pk = UNSAVED
    added = rule.as_rule
    rule.pk = None
    after = _with(before, [one for one in before.rules if one.number not in same] + [added])
    machines = traits_of_all(before.features | after.features, today).values()
    rhythms = [after.rhythm(one) for one in machines]
    won = [one for one in rhythms if one.rule == added]
    return RulePreview(
        covered=len(won),
        outranked=sum(added in one.lost for one in rhythms),
        goes_beyond=sum(bool(one.goes_beyond) for one in won),
        drops_skills=sum(
            bool(_skills(before.rhythm(one)) - set(added.skills))
            for one, rhythm in zip(machines, rhythms, strict=True)
            if rhythm.rule == added
        ),
        effects=effects_of(rule.procedure, before, after, today),
    )


def _skills(rhythm):
    return set(rhythm.rule.skills) if rhythm.rule else set()


def preview_of_ending(rule, today) -> Effects:
    """Return what ending a rule in force would do to the planned inspections."""
    before = _table(rule.procedure, PlanningRule.objects.in_force(today))
    after = _with(before, [one for one in before.rules if one.number != rule.pk])
    return effects_of(rule.procedure, before, after, today)


def winners(procedure, today):
    """Return how many machines follow each rule of a procedure, by its number; None for the procedure itself."""
    table = _table(procedure, PlanningRule.objects.in_force(today))
    found = {}
    for traits in traits_of_all(table.features, today).values():
        rule = table.rhythm(traits).rule
        number = rule.number if rule else None
        found[number] = found.get(number, 0) + 1
    return found


def _table(procedure, rows):
    return rule_tables([procedure], rows)[procedure.pk]


def _with(table, rules):
    return RuleTable(table.own_interval, table.own_window_days, rules)
