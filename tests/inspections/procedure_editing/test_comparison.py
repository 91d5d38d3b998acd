"""Two contents side by side: every step that was added, removed, moved or changed, and nothing else."""

from hypothesis import given
from hypothesis import strategies as st

from inspections.at_bench.procedure_files import read_procedures
from inspections.procedure_editing.comparison import changes_in_words, compare, differences_of_steps
from tests.inspections.procedure_editing.contents import contents

BEFORE = {
    "title": "Check",
    "interval_months": 12,
    "step": [{"code": code, "title": code.title(), "test": "observation", "item": "Whole."} for code in "abcde"],
}


def with_order(codes, **changed):
    """The content with its steps in another order; steps that it has not are new ones."""
    there = {step["code"]: step for step in BEFORE["step"]}
    new = {"title": "New", "test": "observation", "item": "New."}
    return {**BEFORE, "step": [there.get(code, {**new, "code": code}) | changed.get(code, {}) for code in codes]}


def said(after):
    return {step.code: step.words for step in compare(BEFORE, after).changed}


def test_a_content_differs_in_nothing_from_itself():
    for content in read_procedures():
        assert compare(content, content).is_same


def test_a_step_is_added_removed_moved_and_changed():
    assert said(with_order("abxcde")) == {"x": "added"}
    assert said(with_order("abde")) == {"c": "removed"}
    assert said(with_order("abecd")) == {"e": "moved"}
    assert said(with_order("abcde", c={"item": "Clean."})) == {"c": "changed"}
    assert said(with_order("bcdea", a={"essential": True})) == {"a": "moved and changed"}


def test_each_field_is_shown_before_and_after_in_words():
    [step] = compare(BEFORE, with_order("abcde", c={"item": "Clean.", "feature": "o2-last"})).changed
    assert [(one.label, one.before, one.after) for one in step.fields] == [
        ("Safety feature", "", "Oxygen added last in the flowmeter bank"),
        ("Statement", "Whole.", "Clean."),
    ]


def test_the_head_is_compared_field_by_field():
    compared = compare(BEFORE, {**BEFORE, "interval_months": 6, "cautions": ["Mind the hose."]})
    assert [(one.label, one.before, one.after) for one in compared.head] == [
        ("Interval", "12 months", "6 months"),
        ("Cautions", "", "Mind the hose."),
    ]


def test_a_removed_step_stands_where_it_was():
    assert [step.code for step in compare(BEFORE, with_order("abde")).steps] == list("abcde")


def test_everything_of_a_new_procedure_is_added():
    compared = compare(None, BEFORE)
    assert {step.words for step in compared.steps} == {"added"} and ("added", 5) in compared.summary


def test_a_change_of_a_published_limit_between_two_versions_is_shown():
    [content] = [one for one in read_procedures() if one["code"] == "yearly"]
    steps = [dict(step) for step in content["step"]]
    steps[1]["limits"] = [{**steps[1]["limits"][0], "lower_si": 1000.0}, *steps[1]["limits"][1:]]
    [step] = compare({**content, "step": steps}, content).changed
    assert {one.label for one in step.fields} <= {"Published limits", "Limits of its own"} and step.fields


def test_what_two_people_wrote_in_one_step_is_told_apart():
    stored, typed = ({**BEFORE["step"][0], "item": text} for text in ("Loud.", "Shrill."))
    assert [(one.label, one.before, one.after) for one in differences_of_steps(stored, typed)] == [
        ("Statement", "Loud.", "Shrill.")
    ]


@given(order=st.permutations("abcde"))
def test_the_fewest_steps_are_called_moved(order):
    """Taking the moved steps out leaves the others in their old order, and no smaller set does."""
    moved = {step.code for step in compare(BEFORE, with_order(order)).steps if step.is_moved}
    rest = [code for code in order if code not in moved]
    assert rest == sorted(rest)
    longest = max(len(run) for run in _subsets(order) if run == sorted(run))
    assert len(rest) == longest


def _subsets(order):
    return [[code for at, code in enumerate(order) if mask >> at & 1] for mask in range(2 ** len(order))]


@given(before=contents(), after=contents())
def test_whatever_is_compared_every_step_is_named_once_and_what_differs_has_words(before, after):
    compared = compare(before, after)
    codes = [step.code for step in compared.steps]
    assert sorted(codes) == sorted({step["code"] for content in (before, after) for step in content["step"]})
    old, new = changes_in_words(before, after)
    assert old.keys() == new.keys() and all(old[label] != new[label] for label in old)
