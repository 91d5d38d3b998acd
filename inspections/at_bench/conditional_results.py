"""What a conditional pass leads to, by the rule of its step: a finding, or a remark on the result."""

from dataclasses import replace

from inspections.bench import Decision

RULES = ("finding", "remark")
REMARK = (
    "Passes on condition: the value is within its uncertainty of the limit. By the rule of this step no finding opens."
)


def conditional_rule(step):
    """Return "finding" or "remark": as the procedure says, else a finding where the step is essential."""
    return conditional_rule_of({**step.content, "essential": step.is_essential})


def conditional_rule_of(content):
    """Return the rule of a step of a procedure, given its content."""
    return content.get("conditional") or ("finding" if content.get("essential") else "remark")


def with_conditional_remarks(step, evaluation):
    """Return the evaluation with a remark on each conditional pass that opens no finding."""
    if conditional_rule(step) == "finding":
        return evaluation
    results = tuple(
        replace(one, remark=f"{one.remark} {REMARK}".strip()) if one.decision is Decision.CONDITIONAL_PASS else one
        for one in evaluation.results
    )
    return replace(evaluation, results=results)
