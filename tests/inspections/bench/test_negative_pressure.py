"""Suction bulb: ten seconds, each vaporizer in turn, and what leak the bulb can show."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from inspections.bench import BenchError, Decision, Reason
from inspections.bench.guard import evaluate as guarded
from inspections.bench.registry import get_test
from tests.inspections.bench.making import context, evaluate, flow, rows, sheet, shown
from tests.inspections.bench.sound_closed_volumes import YES, bulb, millilitres
from tests.inspections.bench.sound_sheets import figures

CODE = "negative-pressure-leak"
HELD = (15, None)


def found(*positions, surroundings=None, **more):
    return evaluate(CODE, bulb(*positions, **more), surroundings)


def differing(evaluation):
    return [one for one in evaluation.remarks if one.startswith("With vaporizer")]


# --- worked by hand and from outside ---


@pytest.mark.parametrize(("opened", "decision"), [(10, "pass"), (9.9, "fail"), (3, "fail"), (14, "pass")])
def test_the_bulb_stays_collapsed_for_10_s(opened, decision):
    """Source: FDA 1993, step 5: stays collapsed at least 10 s; 10 s passes, 9.9 s fails."""
    assert found((15, opened), HELD).result("hold_off").decision == decision
    assert found(HELD, (15, opened)).result("hold_vaporizers").decision == decision


@pytest.mark.parametrize("count", range(7))
def test_a_machine_of_n_vaporizers_takes_n_and_1_rows(count):
    """Source: FDA 1993, step 5: repeat with each vaporizer on in turn."""
    whole = found(*[HELD] * (count + 1), count=str(count))
    assert whole.result("hold_off").decision is Decision.PASS
    if not count:
        assert whole.result("hold_vaporizers") is None
        return
    assert whole.result("hold_vaporizers").decision is Decision.PASS
    short = found(*[HELD] * count, count=str(count)).result("hold_vaporizers")
    assert short.decision is Decision.NOT_TESTED


def test_the_recorded_vaporizers_count_where_none_is_chosen():
    known = found(HELD, HELD, count="record", surroundings=context(vaporizers=1))
    assert known.result("hold_vaporizers").decision is Decision.PASS
    unknown = found(HELD, HELD, count="record").result("hold_vaporizers")
    assert (unknown.decision, unknown.reason) == (Decision.NOT_TESTED, Reason.NOT_KNOWN)


def test_a_bulb_of_50_ml_shows_30_ml_per_minute_in_10_s():
    """Source: textbooks, a suction bulb finds leaks down to about 30 mL/min (from memory). By hand: 5 mL in 10 s."""
    assert shown(found(), "detectable_leak") == approx(30)


def test_the_leak_of_a_bulb_that_opens_by_hand():
    """By hand: a tenth of 50 mL in 4 s is 75 mL/min; the share of 10 ± 5 % alone makes u 29 % of it."""
    result = found(HELD, (15, 4)).result("leak")
    assert shown(found(HELD, (15, 4)), "leak") == approx(75)
    assert result.std_uncertainty_si / result.value_si == approx(0.05 / 3**0.5 / 0.1, rel=1e-3)
    assert "vaporizer 1 on" in result.convention and "at most" not in result.convention


def test_a_bulb_that_stays_flat_bounds_the_leak():
    """By hand: less than 5 mL in 20 s is at most 15 mL/min."""
    result = found((20, None), (20, None))
    assert shown(result, "leak") == approx(15) and result.result("leak").convention.startswith("at most")


# --- each vaporizer ---


@given(st.lists(figures(1, 9), min_size=1, max_size=6), st.data())
def test_the_vaporizer_that_leaks_is_named_and_no_other(times, data):
    """One of several opens the bulb while all others, and all off, leave it flat."""
    guilty = data.draw(st.integers(1, len(times)))
    positions = [(15, times[place] if place + 1 == guilty else None) for place in range(len(times))]
    result = found(HELD, *positions, count=str(len(times)))
    (said,) = differing(result)
    assert said.startswith(f"With vaporizer {guilty} on") and "look at that vaporizer" in said
    assert result.result("hold_vaporizers").remark.startswith(f"Vaporizer {guilty} on")
    assert result.result("hold_off").decision is Decision.PASS


def test_a_leak_with_all_off_that_one_vaporizer_hides_asks_for_both_rows_again():
    result = found((15, 5), (15, None))
    assert differing(result) and "repeat both rows" in differing(result)[0]


@given(figures(3, 60), figures(-0.15, 0.15))
def test_times_that_differ_by_a_hand_on_the_watch_name_nobody(opened, apart):
    again = round(opened * (1 + apart), 3)
    assert differing(found((opened + 1, opened), (again + 1, again))) == []


def test_a_bulb_that_opened_later_than_the_other_was_watched_names_nobody():
    assert differing(found((12, None), (30, 25))) == []
    assert differing(found((25, None), (30, 25))) == []


@pytest.mark.parametrize(("off", "on"), [((15, None), (15, 8)), ((30, 28), (15, 9)), ((15, 12), (15, 5))])
def test_a_row_that_clearly_differs_is_named(off, on):
    assert len(differing(found(off, on))) == 1


# --- what cannot be judged ---


@pytest.mark.parametrize("answers", [{"holds": None}, {"holds": 0}, {"closed": None}, {"closed": 0}])
def test_a_bulb_or_a_machine_in_doubt_neither_passes_nor_fails(answers):
    for opened in (None, 4):
        for result in found((15, opened), (15, opened), **answers).results[:2]:
            assert result.decision is Decision.NOT_TESTED and result.why.endswith(".")


@pytest.mark.parametrize("watched", [0.5, 5, 9.9])
def test_a_bulb_still_flat_that_nobody_watched_for_10_s_neither_passes_nor_fails(watched):
    for key, seen in (("hold_off", ((watched, None), HELD)), ("hold_vaporizers", (HELD, (watched, None)))):
        result = found(*seen).result(key)
        assert result.decision is Decision.NOT_TESTED
        assert f"still collapsed after {watched:g} s" in result.why


def test_a_bulb_that_opens_fails_even_at_little_suction():
    assert found((15, 4), HELD, suction=-20).result("hold_off").decision is Decision.FAIL
    assert found(HELD, HELD, suction=-20).result("hold_off").decision is Decision.NOT_TESTED


def test_a_suction_that_was_not_read_does_not_stop_the_test():
    assert found(suction=None).result("hold_off").decision is Decision.PASS


@pytest.mark.parametrize(
    ("given_sheet", "key", "words"),
    [
        (bulb((0, None)), "positions[1].watched", "0 s is not possible"),
        (bulb(HELD, (15, 0)), "positions[2].watched", "0 s is not possible"),
        (bulb(HELD, (10, 12)), "positions[2].opened", "watched at least until it opens"),
        (sheet({"bulb_volume": millilitres(0)}), "bulb_volume", "above zero"),
    ],
)
def test_what_cannot_be_is_refused_with_what_to_do(given_sheet, key, words):
    with pytest.raises(BenchError, match=words) as caught:
        evaluate(CODE, given_sheet)
    assert caught.value.key == key


def test_a_stopwatch_of_unknown_accuracy_needs_more_than_10_s():
    def hold_of(watched):
        table = rows({"watched": lambda s: flow(s, "s")}, (watched,))
        given_sheet = sheet({"bulb_holds": YES, "controls_closed": YES}, {"positions": table}, vaporizer_count="0")
        return guarded(get_test(CODE), given_sheet, context()).result("hold_off").decision

    assert hold_of(10) not in (Decision.PASS, Decision.FAIL)
    assert hold_of(15) is Decision.PASS


# --- properties ---


@given(figures(1, 60), figures(20, 300))
def test_the_unit_of_entry_does_not_matter(opened, volume):
    table = rows({"watched": lambda t: flow(t, "min"), "opened": lambda t: flow(t, "min")}, (opened / 60, opened / 60))
    other = evaluate(CODE, sheet({"bulb_volume": flow(volume / 1000, "L")}, {"positions": table}, vaporizer_count="0"))
    assert shown(other, "leak") == approx(0.1 * volume * 60 / opened, rel=1e-6)
    assert other.result("hold_off").value_si == approx(opened)


@given(figures(1, 30), figures(1, 30))
def test_a_bulb_that_opens_sooner_leaks_more(one, other):
    quick, slow = sorted((one, other))
    first, second = (found((40, opened), HELD, count="0") for opened in (quick, slow))
    assert shown(first, "leak") >= shown(second, "leak")
    assert first.result("hold_off").value_si <= second.result("hold_off").value_si


@given(st.lists(figures(1, 40), min_size=2, max_size=6), st.randoms(use_true_random=False))
def test_the_shortest_of_all_vaporizers_is_judged_in_any_order(times, rng):
    shuffled = list(times)
    rng.shuffle(shuffled)
    one, other = (found(HELD, *((50, t) for t in order), count=str(len(times))) for order in (times, shuffled))
    assert one.result("hold_vaporizers").value_si == other.result("hold_vaporizers").value_si == approx(min(times))
