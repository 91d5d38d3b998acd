"""Canonical text is what any JSON writer gives with sorted keys and no spaces, so that others can compute a digest."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.canonical import canonical_json

PLAIN = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text()
DATA = st.recursive(PLAIN, lambda part: st.lists(part) | st.dictionaries(st.text(), part))


@given(DATA)
def test_it_is_the_json_of_the_standard_library(content):
    as_written = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    assert canonical_json(content) == as_written


@pytest.mark.parametrize("content", [float("nan"), [float("inf")]])
def test_what_is_not_json_is_refused(content):
    with pytest.raises(ValueError, match="not JSON compliant"):
        canonical_json(content)
