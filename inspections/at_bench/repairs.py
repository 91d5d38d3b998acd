"""Repairs during an inspection: what was done when, and which steps must be tested again because of it."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from inspections.at_bench.step_content import is_repeated_after
from inspections.models import Replacement


@dataclass(frozen=True, slots=True)
class Repair:
    """Work on one component of the machine, with `words` for it such as “Oxygen regulator replaced”."""

    kind: str
    gas: str
    words: str
    at: datetime

    def calls_for(self, step):
        """Whether the procedures repeat the step after work on this component; one of unknown gas is of any."""
        gas = step.component.gas if step.component else ""
        is_of_gas = not gas or not self.gas or gas == self.gas
        return is_of_gas and is_repeated_after(step.content, self.kind)


def repairs_in(inspection, steps, replacements=None):
    """Return the repairs of an inspection in the order of work: components replaced, and components adjusted.

    replacements  those in force, fetched if not given
    """
    found = Replacement.objects.of(inspection) if replacements is None else replacements
    replaced = [repair_of(one) for one in found]
    adjusted = [_adjustment(step) for step in steps if step.is_own_work and step.component]
    return sorted([*replaced, *adjusted], key=lambda repair: repair.at)


def repair_of(replacement):
    words = f"{replacement.label} replaced"
    return Repair(replacement.kind, replacement.gas, words, replacement.done_at)


def _adjustment(step):
    component = step.component
    return Repair(component.kind, component.gas, f"{component.label}: {step.work_done.rstrip('.')}", step.begun_at)


def to_be_tested_again(evaluated, repairs):
    """Map each step whose last set of readings was begun before a repair that calls for it to the words of those.

    A step without a reading is no case of it: it is still to be tested. One marked as not tested says why.
    """
    found = defaultdict(list)
    for step in evaluated.steps:
        readings = evaluated.readings.get(step.pk)
        if step.applies and step.is_last and not step.not_tested_reason and readings:
            since = min(reading.entered_at for reading in readings)
            found[step] += [repair.words for repair in repairs if repair.at > since and repair.calls_for(step)]
    return {step: list(dict.fromkeys(words)) for step, words in found.items() if words}


def after_work(words):
    """What calls for a set of readings, as it is stored with it: “After this work: Oxygen regulator replaced.”"""
    return f"After this work: {'; '.join(words)}."[:300]


def is_of_new_component(step, readings, replacement):
    """Whether all that a set of readings says is of the component that was fitted, not of the one removed."""
    if step.component_id is None or step.component_id != replacement.component_id:
        return False
    since = min((reading.entered_at for reading in readings), default=step.begun_at)
    return since is None or since >= replacement.done_at
