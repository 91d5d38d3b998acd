"""What a technician must be competent for in each job of a plan: the model where the site demands it, and the skills of
the planning rules. A plan asks for one thing by its name, so several are asked for together under a name of their own.
"""

from inspections.planning.rule_choice import Traits
from inspections.schedule.competence import last_days
from inspections.schedule.required_skills import RequiredSkills, skill_ends
from inspections.schedule.rhythms import fitted_features


class NeededTogether:
    """The competences that jobs need, by the name under which the plan asks for them.

    rows   of inspections, with the columns of `year_problem`
    names  of models by key; demanding, the keys of the sites that demand competence for the model
    """

    def __init__(self, rows, names, demanding, first, last):
        self.names, self.demanding = names, demanding
        self._required = RequiredSkills({row["procedure"] for row in rows}, first, last)
        machines = {row["machine"] for row in rows}
        self._fitted = fitted_features(machines, self._required.features, first)
        self._parts = {}

    def name(self, row, first, last):
        """The name of what the job of a row needs on the days from `first` to `last`; empty for nothing."""
        site = row["machine__area__site"]
        model = row["machine__model"] if site in self.demanding else None
        traits = Traits(
            row["machine"], row["machine__model"], row["machine__area"], site, frozenset(self._fitted[row["machine"]])
        )
        skills = tuple(self._required.asked(row["procedure"], traits, first, last))
        words = [self.names[model]] if model else []
        name = " and ".join([*words, *(f"the skill “{skill}”" for skill in skills)])
        self._parts.setdefault(name, (model, skills))
        return name

    def held(self, competences, models):
        """Return the last day of each name that somebody with some competences has whole; None for no end."""
        by_model, by_skill = last_days(competences, models), skill_ends(competences)
        found = {}
        for name, (model, skills) in self._parts.items():
            ends = [by_model.get(model, False)] if model else []
            ends += [by_skill.get(skill, False) for skill in skills]
            if ends and False not in ends:
                found[name] = min((end for end in ends if end), default=None)
        return found
