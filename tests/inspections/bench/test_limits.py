from dataclasses import replace

import pytest

from inspections.bench import TESTS, Limit, choose_limit
from tests.inspections.bench.making import limit

OLD, NEW = (limit(upper=30, built_before=1998), limit(upper=50, built_from=1998))


@pytest.mark.parametrize(
    ("year", "chosen"),
    [
        (1990, OLD),
        (1997, OLD),
        (1998, NEW),
        (2020, NEW),
        (None, replace(OLD, note="The year of build is not known: this is the strictest rule that could apply.")),
    ],
)
def test_year_of_build_chooses_the_edition(year, chosen):
    assert choose_limit((OLD, NEW), "k", built_year=year) == chosen


def test_a_named_rule_wins_over_the_year():
    leak = TESTS["low-pressure-leak"].default_limits
    assert choose_limit(leak, "leak", built_year=2020).rule == "iso80601-50"
    assert choose_limit(leak, "leak", built_year=1990).rule == "f1161-30"
    assert choose_limit(leak, "leak", built_year=2020, rule="f1850-30").rule == "f1850-30"


def test_an_unknown_rule_names_those_there_are():
    with pytest.raises(ValueError, match="The rules are: own"):
        choose_limit((OLD,), "k", rule="other")
    assert choose_limit((OLD,), "another key") is None


@pytest.mark.parametrize(
    ("lower", "upper", "basis", "words"),
    [(None, None, "seen", "lower limit, an upper"), (2, 1, "seen", "above"), (1, 2, "hearsay", "hearsay")],
)
def test_a_limit_that_cannot_be_is_refused(lower, upper, basis, words):
    with pytest.raises(ValueError, match=words):
        Limit("k", "r", "t", lower, upper, "kPa", "s", "e", basis)


@pytest.mark.parametrize("test", TESTS.values(), ids=TESTS)
def test_every_default_limit_has_source_edition_and_a_result_to_judge(test):
    results = {spec.key for spec in test.results}
    for one in test.default_limits:
        assert one.source and one.edition and one.title and one.key in results
    rules = [(one.key, one.rule) for one in test.default_limits]
    assert len(rules) == len(set(rules))
