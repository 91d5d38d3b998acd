"""Passages of a text: read for a machine, refused where they cannot be read."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.bench.passages import EQUIPMENT, equipment_in, for_machine, passage_problem

TEXT = "{pipeline|With the pipeline disconnected, open|Open} the cylinder{pipeline yokes| of the same gas}."


@pytest.mark.parametrize(
    ("lacks", "read"),
    [
        ((), "With the pipeline disconnected, open the cylinder of the same gas."),
        (("scavenging",), "With the pipeline disconnected, open the cylinder of the same gas."),
        (("pipeline",), "Open the cylinder."),
        (("yokes",), "With the pipeline disconnected, open the cylinder."),
    ],
)
def test_a_passage_is_left_out_for_a_machine_that_lacks_any_of_what_it_names(lacks, read):
    assert for_machine(TEXT, frozenset(lacks)) == read


def test_the_codes_of_a_text_are_found():
    assert equipment_in(TEXT) == {"pipeline", "yokes"}


@pytest.mark.parametrize(
    "text", ["{pipeline|a", "a}", "{pipeline}", "{pipeline|{yokes|a}|b}", "{pipeline|a|b|c}", "{|a}"]
)
def test_a_bracket_that_is_no_passage_is_refused(text):
    assert "Accepted: " in passage_problem(text)


def test_an_unknown_code_is_named_with_the_known_ones():
    problem = passage_problem("{pipeline ladder|a}")
    assert "“ladder”" in problem and f"Accepted: {', '.join(EQUIPMENT)}." in problem
    assert "“”" in passage_problem("{|a}")


WORDS = st.text(st.characters(blacklist_characters="{|}", blacklist_categories=("Cs",)), max_size=20)


@given(
    st.lists(st.tuples(WORDS, st.sampled_from(EQUIPMENT), WORDS, WORDS), max_size=4),
    st.sets(st.sampled_from(EQUIPMENT)),
)
def test_each_machine_reads_one_side_of_each_passage_and_everything_between(parts, lacks):
    text = "".join(f"{before}{{{code}|{there}|{absent}}}" for before, code, there, absent in parts)
    expected = "".join(before + (absent if code in lacks else there) for before, code, there, absent in parts)
    assert passage_problem(text) == ""
    assert for_machine(text, lacks) == expected
