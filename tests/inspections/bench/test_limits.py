from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.bench import TESTS, Limit, choose_limit, decide
from tests.inspections.bench.making import limit

OLD, NEW = (limit(upper=30, built_before=1998), limit(upper=50, built_from=1998))


@pytest.mark.parametrize(
    ("year", "chosen"),
    [
        (1990, OLD),
        (1997, OLD),
        (1998, NEW),
        (2020, NEW),
        (None, OLD),
    ],
)
def test_year_of_build_chooses_the_edition(year, chosen):
    found = choose_limit((OLD, NEW), "k", built_year=year)
    assert (found.lower_si, found.upper_si) == (chosen.lower_si, chosen.upper_si)
    assert ("not known" in found.note) == (year is None)


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


def test_where_no_rule_is_the_strictest_an_unknown_year_gets_what_all_accept():
    """By hand: 20 to 60 until 1998, 30 to 80 since: both accept 30 to 60."""
    rules = (limit(20, 60, built_before=1998), limit(30, 80, built_from=1998))
    rules = (replace(rules[0], rule="old"), replace(rules[1], rule="new"))
    found = choose_limit(rules, "k")
    assert (found.lower_si, found.upper_si) == (30, 60)


ends = st.floats(0, 50)
years = st.none() | st.integers(1980, 2020)
limits = st.lists(
    st.builds(
        lambda low, width, start, end: limit(low, low + width, built_from=start, built_before=end),
        ends, st.floats(60, 90), years, years,
    ), min_size=1, max_size=4,
).map(lambda found: [replace(one, rule=str(n)) for n, one in enumerate(found)])  # fmt: skip


@given(rules=limits, year=st.integers(1970, 2030), value=st.floats(-10, 150))
def test_what_passes_with_an_unknown_year_passes_in_every_year(rules, year, value):
    unknown, known = choose_limit(rules, "k"), choose_limit(rules, "k", built_year=year)
    if known is not None and decide(value, 0, unknown).decision == "pass":
        assert decide(value, 0, known).decision == "pass"
