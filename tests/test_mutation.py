"""The mutation run knows every module that it is meant to mutate, and explains only what is as it says."""

from pathlib import Path

import pytest

from tests.mutation.explained import WORDS, reason_for
from tests.mutation.parts import PARTS
from tests.mutation.run import Mutant

ROOT = Path(__file__).parents[1]
MUTATED = ("fleet/circuit/laws", "fleet/circuit/elements", "inspections/bench", "inspections/bench/slips")


def test_every_module_of_the_bench_and_of_the_laws_is_in_one_part():
    named = [file for part in PARTS.values() for file in part.files(ROOT)]
    there = [str(path.relative_to(ROOT)) for folder in MUTATED for path in (ROOT / folder).glob("*.py")]
    assert sorted(named) == sorted(there)


def reason(before, after):
    return reason_for(Mutant("a.b", "survived", before, after), [])


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ('raise BenchError("The flow is too low.")', 'raise BenchError("THE FLOW IS TOO LOW.")'),
        ('"its instrument.",', '"XXits instrument.XX",'),
        ('return "" if is_air else "Air may flow."', 'return "" if is_air else "air may flow."'),
    ],
)
def test_words_that_people_read_may_differ(before, after):
    assert reason(before, after) == WORDS


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ('{"unit": unit, "value": 1}', '{"XXunitXX": unit, "value": 1}'),
        ('{"oxygen valve stuck shut": 2.0}', '{"OXYGEN VALVE STUCK SHUT": 2.0}'),
        ('if key == "flows_both_ways":', 'if key == "FLOWS_BOTH_WAYS":'),
        ('if self.has_failed("oxygen valve stuck shut"):', 'if self.has_failed("OXYGEN VALVE STUCK SHUT"):'),
        ('if way == "positive relief stuck shut":', 'if way == "XXpositive relief stuck shutXX":'),
        ('names["what it is called"]', 'names["WHAT IT IS CALLED"]'),
        ('source = "same model" if of_model else ""', 'source = "XXsame modelXX" if of_model else ""'),
        ('raise BenchError("It is too low.", 1)', 'raise BenchError("XXIt is too low.XX", 2)'),
        ('raise BenchError("It is too low.")', "raise BenchError(None)"),
        ('f"Watch it for {asked / 60:.0f} min or longer."', 'f"Watch it for {asked * 60:.0f} min or longer."'),
    ],
)
def test_a_number_a_key_a_code_or_a_value_within_words_may_not_differ(before, after):
    assert reason(before, after) == ""


def test_an_explanation_counts_for_the_place_and_the_change_that_it_names():
    entry = {"where": "a.*", "before": "if x <= 0:", "after": "if x < 0:", "because": "both give 0 at 0"}
    inside = Mutant("a.b", "survived", "if x <= 0:", "if x < 0:")
    outside = Mutant("c.d", "survived", "if x <= 0:", "if x < 0:")
    assert (reason_for(inside, [entry]), reason_for(outside, [entry])) == ("both give 0 at 0", "")
