"""Every field of a procedure and of its steps in words, for a comparison, the changes of a draft and its approval."""

from fleet.catalogue import COMPONENT_KINDS, FEATURES, GASES
from inspections.at_bench.conditional_results import conditional_rule_of
from inspections.at_bench.limit_texts import built_text, limit_text, result_text
from inspections.bench import TESTS, Limit
from inspections.procedure_editing.written_form import own_limits

OWN_LIMITS, PUBLISHED = "Limits of its own", "Published limits"
CONDITIONAL_WORDS = {"finding": "opens a finding", "remark": "leaves a remark"}


def head_words(content):
    """Return label -> text of what a procedure says of itself."""
    months = content.get("interval_months")
    return {
        "Title": content["title"],
        "Purpose": content.get("purpose", ""),
        "Interval": f"{months} month{'s' if months != 1 else ''}" if months else "when needed",
        "On time within": f"{content.get('window_days', 14)} days either side of the due date",
        "Contains": ", ".join(content.get("contains", [])),
        "Check before use": "yes" if content.get("pre_use") else "no",
        "Cautions": "\n".join(content.get("cautions", [])),
        "Not tested here": "\n".join(_not_tested(one) for one in content.get("not_tested_here", [])),
    }


def step_words(step):
    """Return label -> text of every field of a step; `limits`, where it has them, are those of a version."""
    limits, own = step.get("limits", []), own_limits(step)
    return {
        "Title": step["title"],
        "Bench test": test_title(step["test"]),
        "Essential": "yes" if step.get("essential") else "no",
        "Safety feature": _name(FEATURES, step.get("feature")),
        "Or safety feature": _name(FEATURES, step.get("or_feature")),
        "Machine needs": ", ".join(step.get("needs", [])),
        "Component": _name(COMPONENT_KINDS, step.get("component")),
        "Only where rated for": step.get("rated", ""),
        "Gas": _name(GASES, step.get("gas")),
        "For each": step.get("each", ""),
        "Repeated after work on": ", ".join(_name(COMPONENT_KINDS, code) for code in step.get("repeat_after", [])),
        "Purpose": step.get("purpose", ""),
        "Instruction": step.get("instruction", ""),
        "Statement": step.get("item", ""),
        "Caution": step.get("caution", ""),
        "A conditional pass": CONDITIONAL_WORDS.get(conditional_rule_of(step), conditional_rule_of(step)),
        "Chosen for the technician": _pairs(step.get("choices", {})),
        "Answered by the record": _pairs(step.get("from_record", {})),
        "Rules": _pairs(step.get("rules", {})),
        OWN_LIMITS: "\n".join(limit_line(step["test"], one) for one in own),
        PUBLISHED: "\n".join(limit_line(step["test"], one) for one in limits if one not in own),
        "Finds": "\n".join(step.get("finds", [])),
        "Source": step.get("source", ""),
    }


def test_title(code):
    return TESTS[code].title if code in TESTS else code


def limit_line(test_code, fields):
    """One limit of a version with its source, on one line."""
    limit = Limit(**fields)
    built = f", {built_text(limit)}" if built_text(limit) else ""
    printed = [limit.title, limit.source, limit.edition.strip("-"), limit.basis]
    said = "; ".join(dict.fromkeys(part for part in printed if part))
    return f"{result_text(test_code, limit.key)[1]}: {limit_text(limit)}{built} ({said})"


def _name(catalogue, code):
    if not code:
        return ""
    return catalogue[code].name if code in catalogue else code


def _pairs(table):
    return ", ".join(f"{key}: {value}" for key, value in table.items())


def _not_tested(entry):
    return f"{', '.join(_name(FEATURES, code) for code in entry['features'])}: {entry['reason']}"
