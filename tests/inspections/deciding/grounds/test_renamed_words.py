"""What a page of a decision showed, compared with what is so now."""

import pytest

from inspections.deciding.grounds import changes_between
from inspections.deciding.grounds.comparing import RENAMED


@pytest.mark.parametrize("earlier, present", RENAMED.items())
def test_a_proposal_stored_with_the_words_of_an_earlier_version_has_not_changed_for_that(earlier, present):
    as_line = {"Machine": {earlier: "T-1"}}, {"Machine": {present: "T-1"}}
    as_heading = {earlier: {"Machine": "T-1"}}, {present: {"Machine": "T-1"}}
    assert changes_between(*as_line) == changes_between(*as_heading) == []


@pytest.mark.parametrize("earlier, present", RENAMED.items())
def test_a_new_value_under_a_renamed_line_is_a_change(earlier, present):
    (change,) = changes_between({"Machine": {earlier: "T-1"}}, {"Machine": {present: "T-2"}})
    assert (change.where, change.what, change.was, change.now) == ("Machine", present, "T-1", "T-2")
