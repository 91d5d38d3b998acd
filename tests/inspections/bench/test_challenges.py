"""Nothing passes that was not challenged.

Each family has one sheet that passes, and the ways in which its challenge is taken away. The conditions are written
down here anew from what the trade asks for, not taken from the declarations.
"""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.bench import TESTS, Challenge, Decision, Dimension, NoChallenge, Reason, get_test
from inspections.bench.declarations import ReadingSpec, ResultSpec
from tests.inspections.bench.making import (
    evaluate,
    flow,
    pressure,
    sheet,
)
from tests.inspections.bench.sound_sheets import (
    CREDIT,
    FALL,
    RISE,
    SOUND,
    decay,
    figures,
    leak,
    mixture,
    pipeline,
    proportional,
    regulator,
    seconds,
    supply,
    vaporizer,
    ventilator,
)


@pytest.mark.parametrize("name", SOUND)
def test_what_was_challenged_and_is_sound_passes(name):
    given_sheet, surroundings = SOUND[name]
    found = evaluate(name.partition(",")[0], given_sheet, surroundings)
    assert not found.missing
    assert {one.key: one.decision for one in found.results if one.limit} == {
        one.key: Decision.PASS for one in found.results if one.limit
    }


def _unread(low, high):
    return tuple(row for row in FALL if not low < row[0] < high)


def fed(fresh_gas, decoupled):
    """A sound machine set to 300 mL with so much fresh gas, L/min; by what is set it reads well within 20 %."""
    given = ventilator((300, 300, 15), changed={"fresh_gas": flow(fresh_gas)})
    return replace(given, choices={**given.choices, "decoupled": decoupled})


REMOVED = [
    ("supply-failure", "trip_pressure", figures(5, 16).map(lambda w: supply(_unread(25 - w, 25 + w)))),
    ("supply-failure", "trip_pressure", figures(31, 36.9).map(lambda full: supply(
        [(min(p, full), q) for p, q in FALL], full=full))),
    ("supply-failure", "trip_pressure", figures(0.01, 0.99).map(lambda set_flow: supply(
        [(p, q / 5 * set_flow) for p, q in FALL], [(p, q / 5 * set_flow) for p, q in RISE], set_flow=set_flow))),
    ("supply-failure", "trip_pressure", st.just(proportional()).map(lambda s: replace(s, choices={}))),
    ("supply-failure", "residual_flow", figures(20.1, 22.9).map(lambda end: supply(
        [row for row in FALL if row[0] > 23] + [(end, 0)]))),
    ("supply-failure", "reset_pressure", st.just(supply(rise=((5, 0), (38, 0), (50, 5))))),
    ("supply-failure", "returned_share", figures(3, 5).map(lambda q: proportional(rise=[(0, q), (25, q), (50, 5)]))),
    ("supply-failure", "residual_flow", figures(1, 4).map(lambda p: proportional(
        [(45, 4), (35, 3), (25, 2), (15, 1), (10, 0.5), (5, 0.2), (p, 0.05)]))),
    ("supply-failure", "proportion_deviation", st.just(proportional([(45, 4), (20, 1), (10, 0.5), (1, 0.01), (0, 0)]))),
    ("supply-failure", "alarm_pressure", st.just(supply(FALL[2:], full=39, alarm_pressure=pressure(39.0)))),
    ("regulator", "flowing_pressure", figures(0.6, 9.8).map(lambda q: regulator([(0.5, 44.9), (q, 44)]))),
    ("regulator", "pipeline_margin_flowing", figures(0.6, 9.8).map(lambda q: regulator([(0.5, 44.9), (q, 44)]))),
    ("regulator", "lockup_rise", figures(0.6, 9.8).map(
        lambda q: regulator([(0.5, 44.9), (q, 44)], lockup_pressure=45.2))),
    ("regulator", "creep_total", st.tuples(figures(0.01, 4.9), figures(-4.9, 4.9)).map(
        lambda one: regulator(creep=((0, 45), (one[0], 45 + one[1]))))),
    ("regulator", "creep_total", figures(1, 89).map(lambda inlet: regulator(inlet_pressure=inlet))),
    ("regulator", "static_pressure", figures(1, 89).map(lambda inlet: regulator(inlet_pressure=inlet))),
    ("regulator", "pipeline_margin_flowing", st.just(regulator(pipeline_flowing_pressure=None))),
    ("pipeline-supply", "flowing_pressure", (st.none() | figures(0, 9.8)).map(lambda q: pipeline(drawn=q))),
    ("pipeline-supply", "sag", (st.none() | figures(0, 9.8)).map(lambda q: pipeline(drawn=q))),
    ("pipeline-supply", "flowing_pressure", st.just(pipeline(flowing=None))),
    ("low-pressure-leak", "leak", figures(0.01, 2.69).map(lambda p: leak(p, 0, outlet_valve="none"))),
    ("low-pressure-leak", "leak", figures(3.31, 20).map(lambda p: leak(p, 1, outlet_valve="none"))),
    ("low-pressure-leak", "leak", figures(2.7, 3.3).map(leak)),
    ("low-pressure-leak", "leak", figures(2.7, 3.3).map(lambda p: leak(p, outlet_valve="fitted"))),
    ("low-pressure-leak", "leak", figures(0.1, 9.9).map(lambda t: decay((0, 3), (t, 3), outlet_valve="none"))),
    ("low-pressure-leak", "leak", figures(0.1, 2.6).map(lambda p: decay((0, p), (60, p), outlet_valve="none"))),
    ("low-pressure-leak", "leak", figures(3.4, 9).map(lambda p: decay((0, p), (60, p), outlet_valve="none"))),
    ("low-pressure-leak", "leak_vaporizers", st.sampled_from([{}, {"vaporizer_count": "2"}]).map(
        lambda more: leak(outlet_valve="none", **more))),
    ("breathing-system-leak", "leak", figures(0.01, 2.69).map(lambda p: leak(p, 0))),
    ("oxygen-mixture", "lowest_fraction", figures(0.26, 1).map(
        lambda share: mixture((share, 1 - share, share, 1 - share)))),
    ("oxygen-mixture", "ratio_protection", figures(0.21, 0.99).map(
        lambda share: mixture((share, round(1 - share, 4), 5, 0.1)))),
    ("oxygen-mixture", "oxygen_off_flow", (st.none() | figures(0, 0.9)).map(
        lambda offered: mixture((1, 6, 1, 2), offered=offered))),
    ("oxygen-flush", "stops_on_release", st.just(sheet({"flow": flow(0), "stops_on_release": flow(1, "yes/no")}))),
    ("oxygen-flush", "flush_flow", figures(0.1, 1.9).map(
        lambda t: sheet({"volume": flow(t * 50 / 60, "L"), "time": seconds(t)}, method="timed"))),
    *(("vaporizer-output", f"output_{rule}", sheets) for rule in ("symmetric", "asymmetric", "audit") for sheets in (
        figures(0, 1.9).map(lambda q, rule=rule: vaporizer(drawn=q, rule=rule)),
        figures(10.2, 60).map(lambda q, rule=rule: vaporizer(drawn=q, rule=rule)),
        st.just(vaporizer(carrier="nitrous oxide", rule=rule)),
        figures(1.3, 4.9).map(lambda dial, rule=rule: vaporizer((dial, dial), (5, 5), rule=rule)),
        figures(0.1, 2.4).map(lambda dial, rule=rule: vaporizer((0.1, 0.1), (dial, dial), rule=rule)),
    )),
    ("vaporizer-output", "off_output", st.just(vaporizer((1, 0), (4, 0), off=0))),
    ("ventilator-volume", "volume_error", figures(0.6, 10).map(lambda q: fed(q, decoupled="no"))),
    ("ventilator-volume", "volume_error", figures(0.6, 10).map(lambda q: fed(q, decoupled="unknown"))),
    ("ventilator-volume", "minute_volume_error", figures(0.6, 10).map(lambda q: fed(q, decoupled="no"))),
    ("ventilator-volume", "own_error", figures(5, 14.8).map(
        lambda held: ventilator((500, 505, held), (300, 305, 6)))),
]  # fmt: skip


@pytest.mark.parametrize("number", range(len(REMOVED)))
@given(data=st.data())
def test_a_result_whose_challenge_is_taken_away_never_passes(number, data):
    code, key, sheets = REMOVED[number]
    result = evaluate(code, data.draw(sheets)).result(key)
    assert result is None or result.decision not in CREDIT
    if result is not None and result.decision is Decision.NOT_TESTED:
        assert result.reason in (Reason.NOT_CHALLENGED, Reason.NOT_KNOWN, Reason.BLIND, Reason.NOT_MEASURED)
        assert result.why.endswith(".")


def test_every_result_with_a_challenge_has_it_taken_away_here():
    tried = {(code, key) for code, key, _ in REMOVED}
    declared = {
        (test.code, spec.key)
        for test in TESTS.values()
        for spec in test.results
        if isinstance(spec.challenge, Challenge)
    }
    assert tried == declared


def test_a_result_without_a_challenge_or_a_reason_cannot_be_declared():
    with pytest.raises(TypeError, match="missing"):
        ResultSpec("a", "A", Dimension.TIME, "s", "as read")
    with pytest.raises(TypeError, match="declare its challenge"):
        ResultSpec("a", "A", Dimension.TIME, "s", "as read", None)
    with pytest.raises(TypeError, match="the reason"):
        NoChallenge("  ")
    with pytest.raises(TypeError, match="statement"):
        Challenge("", lambda bench: None)


def test_a_result_without_limit_and_a_reading_without_result_need_a_reason():
    flush = get_test("oxygen-flush")
    spec = ResultSpec("a", "A", Dimension.TIME, "s", "as read", NoChallenge("for a test"))
    with pytest.raises(TypeError, match="is not judged"):
        replace(flush, results=(*flush.results, spec))
    with pytest.raises(TypeError, match="judges none"):
        ReadingSpec("a", "A", Dimension.TIME, None, ("s",))
    with pytest.raises(TypeError, match="which is no result"):
        odd = ReadingSpec("a", "A", Dimension.TIME, None, ("s",), judges=("b",))
        replace(flush, readings=(*flush.readings, odd))


def test_two_things_to_enter_share_no_key():
    flush = get_test("oxygen-flush")
    with pytest.raises(TypeError, match="flow is the key of two"):
        replace(flush, readings=(*flush.readings, flush.readings[0]))
