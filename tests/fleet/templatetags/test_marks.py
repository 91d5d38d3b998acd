"""The class of the mark that stands before a word."""

import pytest

from fleet.templatetags.marks import mark_class

CASES = [
    ("Pass", "pass"),
    ("pass, limit not confirmed", "pass"),
    ("Conditional fail, limit not confirmed", "conditional-fail"),
    ("Signed, incomplete", "incomplete"),
    ("Withdrawn from use", "withdrawn-from-use"),
    ("", ""),
]


@pytest.mark.parametrize(("word", "shown"), CASES)
def test_a_mark_is_that_of_the_first_word_and_incomplete_wins(word, shown):
    assert mark_class(word) == shown
