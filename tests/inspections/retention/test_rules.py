"""The rules of retention as data, and the arithmetic of their periods."""

from datetime import date

import pytest

from inspections.models.attachments import SUBJECTS
from inspections.retention.rules import RULE_OF, RULES, read_rules

ONE = """
[[rule]]
code = "x"
title = "X"
subjects = [{subjects}]
years = 5
event = "{event}"
source = "common practice, no source"
basis = "common practice, no source"
"""


def test_every_subject_has_one_rule_and_every_rule_a_source():
    assert set(RULE_OF) == set(SUBJECTS)
    for rule in RULES:
        assert rule.title and rule.source and rule.basis in ("seen", "from memory", "common practice, no source")
        assert rule.is_removable == (rule.years > 0)


def test_signed_records_are_never_removed():
    [rule] = [one for one in RULES if one.code == "records"]
    assert not rule.is_removable and rule.words == "never removed by Bobbin"


DAYS = (
    (date(2026, 11, 2), date(2015, 11, 2)),
    (date(2028, 2, 29), date(2017, 2, 28)),
    (date(2024, 2, 29), date(2013, 2, 28)),
)


@pytest.mark.parametrize("today, last", DAYS)
def test_a_period_ends_on_the_same_day_of_a_later_year(today, last):
    assert RULE_OF["machine"].last_event(today) == last


@pytest.mark.parametrize("event, subjects", [("sold", '"machine"'), ("never", '"machine"'), ("retired", "")])
def test_a_rule_that_does_not_fit_is_refused(event, subjects):
    with pytest.raises(ValueError, match="Accepted: retired, instrument retired, closed, replaced, never"):
        read_rules(ONE.format(event=event, subjects=subjects))


def test_a_subject_of_two_rules_is_refused():
    with pytest.raises(ValueError, match="Two rules name the same subject"):
        read_rules(ONE.format(event="retired", subjects='"machine"') * 2)
