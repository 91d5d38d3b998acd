"""Conditions on many keys select exactly the rows that have them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.acting import keys as keys_module
from fleet.acting.keys import conditions_on


def _is_selected(key, condition):
    return key in condition["pk__in"] if "pk__in" in condition else condition["pk__gte"] <= key <= condition["pk__lte"]


@given(st.sets(st.integers(1, 60)), st.integers(1, 20))
def test_each_key_is_selected_once_and_no_other(keys, at_once):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(keys_module, "AT_ONCE", at_once)
        conditions = list(conditions_on("pk", keys))
    assert {key: sum(_is_selected(key, one) for one in conditions) for key in range(62)} == {
        key: int(key in keys) for key in range(62)
    }
    assert len(conditions) == -(-len(keys) // at_once)


def test_keys_in_a_row_are_no_list():
    assert list(conditions_on("machine", range(7, 2007))) == [{"machine__gte": 7, "machine__lte": 2006}]
    assert list(conditions_on("machine", [9, 5])) == [{"machine__in": [5, 9]}]
