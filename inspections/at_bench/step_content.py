"""What a step of a procedure says it is about, from its content."""

import re

from fleet.catalogue import COMPONENT_KINDS
from fleet.caution import COMES_FIRST
from inspections.bench import get_test

FIRST_SENTENCE = re.compile(r".*?(?:\.(?=\s)|$)", re.DOTALL)


def features_of(content):
    """Return the codes of the safety features that the step tests: none, one, or either of two."""
    return [content[key] for key in ("feature", "or_feature") if content.get(key)]


def is_repeated_after(content, kind):
    """Return whether the step is repeated after work on a component of this kind.

    It tests such components, or a safety feature of which they are evidence, or it names the kind.
    """
    is_evidence = bool(set(features_of(content)) & set(COMPONENT_KINDS[kind].evidences))
    return kind == content.get("component") or kind in content.get("repeat_after", ()) or is_evidence


def caution_line(step):
    """Return the first sentence of the caution of a step, else of its test, for where the caution is folded."""
    caution = step.content.get("caution") or next(iter(get_test(step.test_code).cautions), COMES_FIRST)
    return FIRST_SENTENCE.match(caution)[0]
