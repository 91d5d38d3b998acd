"""The most specific rule wins: against a brute-force choice over every rule."""

from datetime import date, timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from inspections.planning.rule_choice import ORDER_WORDS, REACH_WORDS, Interval, Reach, Rule, RuleTable, Traits

FIRST = date(2026, 1, 1)
FEATURES = ("o2-supply-alarm", "o2-analyser", "flush-guard")
ORDER = ("machine", "feature", "model", "area", "site", "all")  # as issue and page state it, written out once more
SMALL = st.integers(1, 3)
intervals = st.one_of(
    st.none(), st.builds(Interval, months=st.integers(1, 24)), st.builds(Interval, days=st.integers(1, 60))
)
traits = st.builds(
    Traits, machine=SMALL, model=SMALL, area=SMALL, site=SMALL, features=st.frozensets(st.sampled_from(FEATURES))
)


@st.composite
def rules(draw, reach=None):
    reach = reach or draw(st.sampled_from(list(Reach)))
    target = {Reach.FEATURE: st.sampled_from(FEATURES), Reach.ALL: st.none()}.get(reach, SMALL)
    interval = draw(intervals)
    return Rule(
        number=draw(st.integers(1, 10_000)), reach=reach, target=draw(target),
        from_date=FIRST + timedelta(days=draw(st.integers(0, 5))), interval=interval,
        window_days=draw(st.integers(0, 30)) if interval else None,
        source=draw(st.sampled_from(["manufacturer", "law", "policy", "evidence"])),
    )  # fmt: skip


many_rules = st.lists(rules(), max_size=12, unique_by=lambda one: one.number)


def reaches(rule, machine):
    if rule.reach == "all":
        return True
    if rule.reach == "feature":
        return rule.target in machine.features
    return getattr(machine, str(rule.reach)) == rule.target


def chosen_by_force(found, machine):
    """Walk the order; among the rules of the first reach that has any, the newest day, then the newest rule."""
    for reach in ORDER:
        of_reach = [one for one in found if one.reach == reach and reaches(one, machine)]
        for day in sorted({one.from_date for one in of_reach}, reverse=True):
            return max((one for one in of_reach if one.from_date == day), key=lambda one: one.number)
    return None


@given(many_rules, traits, intervals)
def test_the_rule_that_wins_is_that_of_a_search_through_all(found, machine, own):
    rhythm = RuleTable(own, 14, found).rhythm(machine)
    winner = chosen_by_force(found, machine)
    assert rhythm.rule == winner
    assert rhythm.interval == (winner.interval if winner else own)
    assert rhythm.window_days == (winner.window_days if winner and winner.is_planned else 14)


@given(many_rules, traits)
def test_every_rule_that_reaches_a_machine_is_named_once_in_the_order_in_which_they_win(found, machine):
    rhythm = RuleTable(None, 14, found).rhythm(machine)
    named = [one for one in (rhythm.rule, *rhythm.lost) if one]
    assert sorted(one.number for one in named) == sorted(one.number for one in found if reaches(one, machine))
    rest = list(found)
    for one in named:
        assert chosen_by_force(rest, machine) == one
        rest.remove(one)


@given(many_rules, traits, st.data())
def test_a_less_specific_rule_changes_no_machine_that_has_a_more_specific_one(found, machine, data):
    before = RuleTable(None, 14, found).rhythm(machine)
    assume(before.rule and before.rule.reach != Reach.ALL)
    wider = st.sampled_from(ORDER[ORDER.index(before.rule.reach) + 1 :])
    added = data.draw(rules(reach=Reach(data.draw(wider))))
    after = RuleTable(None, 14, [*found, added]).rhythm(machine)
    assert (after.rule, after.timing) == (before.rule, before.timing)


@given(many_rules, traits, st.randoms())
def test_the_order_in_which_rules_were_added_decides_nothing(found, machine, random):
    turned = list(found)
    random.shuffle(turned)
    assert RuleTable(None, 14, found).rhythm(machine) == RuleTable(None, 14, turned).rhythm(machine)


@given(many_rules, traits)
def test_a_rhythm_says_which_binding_rules_it_goes_beyond(found, machine):
    rhythm = RuleTable(None, 14, found).rhythm(machine)
    beyond = [
        one for one in rhythm.lost
        if one.source in ("manufacturer", "law") and one.interval
        and (rhythm.interval is None or rhythm.interval.after(FIRST) > one.interval.after(FIRST))
    ]  # fmt: skip
    assert list(rhythm.goes_beyond) == beyond


def test_an_interval_is_months_or_days():
    assert Interval(months=1).after(date(2026, 1, 31)) == date(2026, 2, 28)
    assert Interval(days=7).after(date(2026, 2, 25)) == date(2026, 3, 4)
    assert [str(Interval(months=1)), str(Interval(days=7))] == ["every month", "every 7 days"]
    for given_ in ({}, {"months": 1, "days": 7}):
        with pytest.raises(ValueError, match="one of the two"):
            Interval(**given_)


def test_the_order_is_stated_as_it_is_applied():
    named = ("one machine", "safety feature", "machine model", "area", "site", "all machines")
    assert list(Reach) == list(ORDER) == [str(one) for one in REACH_WORDS]
    places = [ORDER_WORDS.index(words) for words in named]
    assert places == sorted(places)
