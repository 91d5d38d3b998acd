"""What a record says of repairs: sets of readings as found and as left, and components that were replaced."""

from inspections.at_bench.repairs import is_of_new_component
from inspections.models import Replacement


def with_repairs(contents, evaluated, inspection, person_content):
    """Return the contents of steps with what was repaired at each; keys are absent where there is nothing.

    state       "as found" or "as left", of a step with several sets of readings
    set         number of a third and later set
    superseded  true for every set but the last: decisions rest on that
    work        what was done before a set as left: what, by, at
    replaced    components replaced at the step
    """
    replacements = list(Replacement.objects.of(inspection))
    for step, content in zip(evaluated.steps, contents, strict=True):
        readings = evaluated.readings.get(step.pk, [])
        for one in replacements:
            if is_of_new_component(step, readings, one):
                content["component"] = {**content["component"], "serial": one.fitted_serial, "lot": one.fitted_lot}
        content |= _state(step, person_content)
        here = [_replaced(one, person_content) for one in replacements if one.step_id == step.pk]
        content |= {"replaced": here} if here else {}
    return contents


def _state(step, person_content):
    if not step.state:
        return {}
    told = {"state": step.state}
    told |= {"superseded": True} if not step.is_last else {}
    told |= {"set": step.set_number} if step.set_number > 2 else {}
    if step.as_left_of_id:
        by, at = person_content(step.begun_by), step.begun_at.isoformat()
        told["work"] = {"what": step.work_done, "by": by, "at": at}
    return told


def _replaced(replacement, person_content):
    plates = {
        which: {name: getattr(replacement, f"{which}_{name}") for name in ("serial", "lot", "part_number")}
        for which in ("removed", "fitted")
    }
    note = {"note": replacement.note} if replacement.note else {}
    return {
        "label": replacement.label, "kind": replacement.kind, **plates, **note,
        "by": person_content(replacement.by), "at": replacement.done_at.isoformat(),
    }  # fmt: skip
