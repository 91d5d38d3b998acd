"""What a step of a procedure says it is about, from its content."""

import re

from fleet.catalogue import COMPONENT_KINDS, FEATURES, GASES
from fleet.catalogue.gaps import NEED_WORDS
from fleet.caution import COMES_FIRST
from inspections.bench import get_test
from inspections.bench.passages import for_machine

WORDED = ("purpose", "instruction", "item", "caution")
"""What of a step may have passages for machines with certain equipment (inspections/bench/passages.py)."""
FIRST_SENTENCE = re.compile(r".*?(?:\.(?=\s)|$)", re.DOTALL)


def test_of(step):
    """Return the bench test of a step, as the machine takes it that lacks what was frozen with the step."""
    return get_test(step.test_code, lacked_by_step(step))


def lacked_by_step(step):
    """Return the codes of what its machine is known to lack and its test would ask for, as frozen with the step."""
    return frozenset(step.content.get("lacks", ()))


def worded(content, lacks=frozenset()):
    """Return the content of a step with its texts as they read for a machine known to lack what `lacks` names."""
    return {**content, **{key: for_machine(content[key], lacks).strip() for key in WORDED if key in content}}


def left_out_words(step):
    """Return why the record of a step holds less than its test asks for on other machines; empty if it does not."""
    reasons = [NEED_WORDS[code] for code in step.content.get("lacks", ()) if code in NEED_WORDS]
    return f"Left out, as the machine's record says: {', '.join(reasons)}." if reasons else ""


def features_of(content):
    """Return the codes of the safety features that the step tests: none, one, or either of two."""
    return [content[key] for key in ("feature", "or_feature") if content.get(key)]


def on_which_machines(content):
    """Return in words on which machines the step is done."""
    names = [FEATURES[code].name.lower() for code in features_of(content) if code in FEATURES]
    conditions = [f"unless recorded as not fitted: {' and '.join(names)}"] if names else []
    if content.get("needs"):
        conditions.append(f"on machines with {' and '.join(content['needs'])}, or where that is not known")
    if content.get("component") in COMPONENT_KINDS:
        conditions.append(f"for each {COMPONENT_KINDS[content['component']].name.lower()}")
    if content.get("gas") in GASES:
        conditions.append(f"on machines that deliver {GASES[content['gas']].name.lower()}")
    if content.get("each"):
        conditions.append("for each gas other than oxygen")
    return "; ".join(conditions) or "on every machine"


def is_repeated_after(content, kind):
    """Return whether the step is repeated after work on a component of this kind.

    It tests such components, or a safety feature of which they are evidence, or it names the kind.
    """
    is_evidence = bool(set(features_of(content)) & set(COMPONENT_KINDS[kind].evidences))
    return kind == content.get("component") or kind in content.get("repeat_after", ()) or is_evidence


def caution_line(step):
    """Return the first sentence of the caution of a step, else of its test, for where the caution is folded."""
    caution = step.content.get("caution") or next(iter(test_of(step).cautions), COMES_FIRST)
    return FIRST_SENTENCE.match(caution)[0]
