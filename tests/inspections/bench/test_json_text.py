"""JSON from outside: what could be read in two ways, or not be printed, is refused with what it is."""

import json

import pytest

from inspections.bench import BenchError
from inspections.bench.json_shapes import listed_in, mapping
from inspections.bench.json_text import DEEPEST, parse_json


def nested(levels):
    return "[" * levels + "]" * levels


def test_sound_data_is_what_json_makes_of_it():
    text = '{"values": {"pressure": {"value": 50.5, "unit": "psi"}}, "tables": {"falling": [{}, null, true]}}'
    assert parse_json(text) == json.loads(text)
    assert parse_json(nested(DEEPEST)) == json.loads(nested(DEEPEST))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('{"a": {"value": NaN}}', "NaN is not a number that can be used"),
        ('[-Infinity]', "-Infinity is not a number that can be used"),
        ('{"a": 1, "b": 2, "c": 3, "b": 4}', "gives 'b' twice in one object"),
        (nested(DEEPEST + 1), f"more than {DEEPEST} levels deep"),
        ('{"a": [{"b": "null \\u0000"}]}', "a character that cannot be printed"),
        ('{"a": [{"b": "half \\ud800"}]}', "a character that cannot be printed"),
        ('[{"\\udfff": 1}]', "a character that cannot be printed"),
        ('{"a": ["' + "x" * 1001 + '"]}', "a text of 1001 characters"),
        ("{", "is not JSON"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_refused_with_what_it_is(text, words):
    with pytest.raises(BenchError) as refused:
        parse_json(text)
    assert words in str(refused.value)


def test_a_list_may_hold_as_many_entries_as_are_accepted_and_a_mapping_names_what_is_none():
    assert listed_in([1, 2], "rows", 2) == [1, 2]
    with pytest.raises(BenchError, match="rows: holds 3 entries; accepted: 2 at most"):
        listed_in([1, 2, 3], "rows", 2)
    with pytest.raises(BenchError, match="rows: give an object of names and values, got 'readings'"):
        mapping("readings", "rows")
