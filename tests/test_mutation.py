"""The mutation run knows every module that it is meant to mutate, and explains only what is as it says."""

from pathlib import Path

from tests.mutation.explained import WORDS, reason_for
from tests.mutation.parts import PARTS
from tests.mutation.run import Mutant

ROOT = Path(__file__).parents[1]
MUTATED = ("fleet/circuit/laws", "fleet/circuit/elements", "inspections/bench", "inspections/bench/slips")


def test_every_module_of_the_bench_and_of_the_laws_is_in_one_part():
    named = [file for part in PARTS.values() for file in part.files(ROOT)]
    there = [str(path.relative_to(ROOT)) for folder in MUTATED for path in (ROOT / folder).glob("*.py")]
    assert sorted(named) == sorted(there)


def test_a_mutant_that_changes_a_number_is_not_taken_for_one_that_changes_words():
    words = Mutant("a.b", "survived", 'raise BenchError("too low")', 'raise BenchError("XXtoo lowXX")')
    number = Mutant("a.b", "survived", 'raise BenchError("too low", 1)', 'raise BenchError("XXtoo lowXX", 2)')
    assert (reason_for(words, []), reason_for(number, [])) == (WORDS, "")


def test_an_explanation_counts_for_the_place_and_the_change_that_it_names():
    entry = {"where": "a.*", "before": "if x <= 0:", "after": "if x < 0:", "because": "both give 0 at 0"}
    inside = Mutant("a.b", "survived", "if x <= 0:", "if x < 0:")
    outside = Mutant("c.d", "survived", "if x <= 0:", "if x < 0:")
    assert (reason_for(inside, [entry]), reason_for(outside, [entry])) == ("both give 0 at 0", "")
