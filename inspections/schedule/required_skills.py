"""Which skills the planning rules that count for an inspection ask for, and who is confirmed for them."""

from collections import defaultdict

from inspections.errors import Refused
from inspections.models import PlanningRule
from inspections.models.calendars import LONGEST_SKILL
from inspections.models.limit_sources import names_something
from inspections.planning.rule_choice import RuleTable
from inspections.schedule.rhythms import traits_of


def skills_asked_for():
    """Return the names of the skills that any rule asks for or asked for, in order. One query."""
    rows = PlanningRule.objects.asking_for_skills().order_by().values_list("skills", flat=True).distinct()
    return sorted({name for names in rows for name in names.split(", ")})


def refuse_unfit_skills(skills, *, is_planned):
    """Raise Refused, with what is accepted, for skills that a rule cannot ask for."""
    if skills and not is_planned:
        raise Refused("A rule that says “not planned” asks for no skill, as nobody is booked there.")
    for name in skills:
        if "," in name or len(name) > LONGEST_SKILL or not names_something(name):
            raise Refused(
                f"“{name}” is no name of a skill. Accepted: words of at most {LONGEST_SKILL} letters, without a comma."
            )
    most = PlanningRule._meta.get_field("skills").max_length
    if len(", ".join(skills)) > most:
        raise Refused(f"The names of the skills have more than {most} letters together. Shorten them.")


class RequiredSkills:
    """The skills that rules ask for on the days from `first` to `last`. Two queries, one where no rule asks for any."""

    def __init__(self, procedures, first, last):
        rows = PlanningRule.objects.not_ended(first).filter(procedure__in=procedures, from_date__lte=last)
        self.rows = {one.pk: one for one in rows} if rows.asking_for_skills().exists() else {}
        limits = {day for one in self.rows.values() for day in (one.from_date, one.until_date) if day}
        self._days = sorted({first, *(day for day in limits if first < day <= last)})
        self._tables = {day: self._tables_on(day) for day in self._days} if self.rows else {}

    @property
    def features(self):
        """The codes of the safety features that the rules ask about."""
        return {one.feature for one in self.rows.values() if one.feature}

    def asked(self, procedure, traits, first, last):
        """Return the skills asked for of a procedure (its key) on a machine on any day from `first` to `last`.

        Each with the rule that asks for it, the first in time of several.
        """
        found = {}
        for day in self._that_count(first, last):
            table = self._tables[day].get(procedure)
            rule = table.rhythm(traits).rule if table else None
            for skill in rule.skills if rule else ():
                found.setdefault(skill, self.rows[rule.number])
        return found

    def _that_count(self, first, last):
        """The days on which the rules that count change, within the days asked about, and the last one before them."""
        if not self._tables:
            return []
        before = [day for day in self._days if day <= first][-1:]
        return before + [day for day in self._days if first < day <= last]

    def _tables_on(self, day):
        rules = defaultdict(list)
        for one in self.rows.values():
            if one.from_date <= day and (one.until_date is None or one.until_date > day):
                rules[one.procedure_id].append(one.as_rule)
        return {procedure: RuleTable(None, 0, found) for procedure, found in rules.items()}


def skills_of_inspections(inspections, days):
    """Return {inspection: {skill: rule}} of inspections with machine and place at hand; `days` by key. Three queries.

    One query where no rule asks for a skill.
    """
    if not inspections:
        return {}
    required = RequiredSkills({one.procedure_id for one in inspections}, min(days.values()), max(days.values()))
    if not required.rows:
        return {}
    machines = {one.machine_id: one.machine for one in inspections}
    traits = traits_of(machines.values(), required.features, min(days.values()))
    return {
        one: asked
        for one in inspections
        if (asked := required.asked(one.procedure_id, traits[one.machine_id], days[one.pk], days[one.pk]))
    }


def skill_ends(competences):
    """Return for each skill that somebody is confirmed for the last day of that, None for no end."""
    found = {}
    for one in competences:
        if one.skill:
            ends = found.setdefault(one.skill, [])
            ends.append(one.last_day)
    return {skill: None if None in ends else max(ends) for skill, ends in found.items()}
