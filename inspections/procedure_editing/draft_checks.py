"""What a draft still lacks before it can be approved, and the content that it would freeze to."""

from inspections.at_bench.procedure_files import freeze_procedure, freeze_step, where_of_step
from inspections.errors import ProcedureError

OBSERVATION = "observation"


def frozen_content(draft):
    """Return the content of the version that the draft would become. Raise ProcedureError naming step and field."""
    return freeze_procedure({**draft.content, "code": draft.code}, name=str(draft))


def shown_content(written):
    """Return what is written with the limits that its steps would have, also where it cannot be approved yet."""
    return {**written, "step": [_with_limits(step) for step in written["step"]]}


def why_not_ready(draft):
    """Return sentences: what must be written before the draft can be approved."""
    steps = draft.content["step"]
    reasons = [] if steps else ["The draft has no step. Add one."]
    for number, step in enumerate(steps, start=1):
        if why := why_step_fails(step):
            reasons.append(f"Step {number}, {step['title']}: {why}")
    if steps and not reasons:
        try:
            frozen_content(draft)
        except ProcedureError as error:
            reasons.append(str(error))
    return reasons


def why_step_fails(step):
    """Return what a step still lacks, as a sentence; empty if nothing."""
    key, label = ("item", "statement") if step["test"] == OBSERVATION else ("instruction", "instruction")
    return "" if step.get(key, "").strip() else f"write the {label}, which the technician reads at the bench."


def _with_limits(step):
    try:
        return freeze_step(step, where_of_step("draft", 0, step))
    except ProcedureError:
        return step
