"""Who is competent for which machines and in which skills on which day, and where that is demanded."""

from collections import defaultdict

from fleet.web.at_site import day_words
from inspections.models import Competence
from inspections.schedule.required_skills import skill_ends, skills_of_inspections

NO_END = None


def competences_of(people):
    """Return the competences in force of people, by key. One query."""
    found = defaultdict(list)
    rows = Competence.objects.in_force().filter(person__in=people).select_related("machine_model")
    for competence in rows.order_by("pk"):
        found[competence.person_id].append(competence)
    return found


def last_days(competences, models):
    """Return for each of the models that somebody is competent for the last day of that, None for no end, by key."""
    found = {}
    for model in models:
        fit = [one for one in competences if _is_for(one, model)]
        if fit:
            ends = [one.last_day for one in fit]
            found[model.pk] = None if None in ends else max(ends)
    return found


def _is_for(competence, model):
    if competence.skill:
        return False
    return competence.machine_model_id == model.pk or competence.manufacturer == model.manufacturer


def is_competent(ends, machine, day):
    """Whether the `last_days` of somebody reach to a day for the model of a machine."""
    return machine.model_id in ends and (ends[machine.model_id] is None or ends[machine.model_id] >= day)


def reasons_against(inspections, person, day):
    """Return a sentence for each model that a person is not competent for on a day, where the site demands it, and for
    each skill that a planning rule asks for and the person does not have then.

    Four queries at most, one where no site demands it and no rule asks for a skill.
    """
    machines = [one.machine for one in inspections if one.machine.area.site.needs_competence]
    asked = skills_of_inspections(inspections, {one.pk: day for one in inspections})
    if not machines and not asked:
        return []
    own = competences_of([person.pk])[person.pk]
    models = {machine.model_id: machine.model for machine in machines}
    ends = last_days(own, models.values())
    reasons = [_reason(person, model, ends.get(key, False), day) for key, model in sorted(models.items())]
    rules = {skill: rule for found in asked.values() for skill, rule in found.items()}
    ends = skill_ends(own)
    reasons += [_reason_of_skill(person, skill, rule, ends.get(skill, False), day) for skill, rule in rules.items()]
    return [words for words in reasons if words]


def _reason(person, model, end, day):
    if end is False:
        return f"{person} has no confirmed competence for {model}. Choose somebody who has, or confirm it first."
    if end is not NO_END and end < day:
        return (
            f"The competence of {person} for {model} ends on {day_words(end)}, before {day_words(day)}. Choose another "
            "day or person, or confirm it again."
        )
    return ""


def _reason_of_skill(person, skill, rule, end, day):
    why = f"Planning rule {rule.pk} asks for the skill “{skill}” ({rule.reason.rstrip('.')})"
    if end is False:
        return f"{why}, and {person} is not confirmed for it. Choose somebody who is, or confirm it first."
    if end is not NO_END and end < day:
        return (
            f"{why}, and that of {person} ends on {day_words(end)}, before {day_words(day)}. Choose another day or "
            "person, or confirm it again."
        )
    return ""
