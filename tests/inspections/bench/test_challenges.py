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
from tests.inspections.bench.sound_accessories import UNCHALLENGED_ACCESSORIES, yes
from tests.inspections.bench.sound_sheets import (
    APART,
    BY_NFPA,
    CREDIT,
    FALL,
    RISE,
    SOUND,
    TRIALS,
    alarm,
    apl,
    basal,
    decay,
    disconnected,
    displays,
    earth,
    figures,
    gas_monitor,
    leak,
    leaking,
    mixture,
    one_way,
    pipeline,
    proportional,
    regulator,
    scavenging,
    seconds,
    supply,
    tube,
    vaporizer,
    ventilator,
)
from tests.inspections.bench.unchallenged_closed_volumes import CLOSED_VOLUMES_UNCHALLENGED

NO = flow(0, "yes/no")
WEAK = figures(1, 197).map(lambda milliamperes: flow(milliamperes, "mA"))
LOW = figures(1, 490).map(lambda volts: flow(volts, "V"))
FAR = (figures(1, 180) | figures(280, 1000)).map(lambda volts: flow(volts, "V"))
DETACHABLE = {"cord": "detachable"}


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


CURRENTS = {"equipment_leakage": flow(1, "µA"), "applied_leakage": flow(1, "µA"), "touch_intact": flow(1, "µA"),
            "touch_open": flow(1, "µA")}  # fmt: skip


def fed(fresh_gas, decoupled):
    """A sound machine set to 300 mL with so much fresh gas, L/min; by what is set it reads well within 20 %."""
    given = ventilator((300, 300, 15), changed={"fresh_gas": flow(fresh_gas)})
    return replace(given, choices={**given.choices, "decoupled": decoupled})


def without_zero(gas):
    """A monitor that was read in certified gas alone."""
    given = gas_monitor(monitor="all")
    return replace(given, tables={**given.tables, gas: given.tables[gas][1:]})


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
    ("flowmeter", "worst_error", st.none().map(lambda off: tube(off=off))),
    ("flowmeter", "worst_error", figures(0, 0.2).map(
        lambda off: tube(*((q, q * (1 + off)) for q in (1, 5, 10)), off=0))),
    ("flowmeter", "worst_error", figures(0.1, 0.99).map(lambda q: tube((q, q)))),
    ("flowmeter", "worst_error", figures(3.1, 10).map(lambda q: tube((q, q), (10, 10), (7, 7)))),
    ("flowmeter", "worst_error", figures(1, 6.9).map(lambda q: tube((q, q), (1, 1), (6.9, 6.9)))),
    ("flowmeter", "worst_error", figures(1, 3).map(lambda q: tube((q, q), (10, 10)))),
    ("flowmeter", "worst_error", st.sampled_from(["air", "nitrous-oxide"]).map(
        lambda gas: tube(convention="as read", test_gas=gas))),
    ("basal-flow", "basal_flow", (st.none() | st.just(0)).map(lambda closed: basal(closed=closed))),
    ("oxygen-flush", "stops_on_release", st.just(sheet({"flow": flow(0), "stops_on_release": flow(1, "yes/no")}))),
    ("oxygen-flush", "flush_flow", figures(0.1, 1.9).map(
        lambda t: sheet({"volume": flow(t * 50 / 60, "L"), "time": seconds(t)}, method="timed"))),
    *(("earth-and-insulation", key, (st.none() | WEAK).map(
        lambda amperes, choices=choices: earth(choices, **APART, test_current=amperes)))
      for key, choices in (("earth_total", {}), ("earth_device", DETACHABLE), ("earth_cord", DETACHABLE),
                           ("ground_resistance", BY_NFPA))),
    *(("earth-and-insulation", key, st.sampled_from([None, NO]).map(
        lambda moved, choices=choices: earth(choices, **APART, cord_moved=moved)))
      for key, choices in (("earth_total", {}), ("earth_cord", DETACHABLE), ("ground_resistance", BY_NFPA))),
    *(("earth-and-insulation", key, st.just(earth({**choices, "earth_supply": "dc"}, **APART)))
      for key, choices in (("earth_total", {}), ("earth_device", DETACHABLE), ("earth_cord", DETACHABLE),
                           ("ground_resistance", BY_NFPA))),
    ("earth-and-insulation", "earth_total", st.just(
        earth({**DETACHABLE, "earth_supply": "dc"}, **APART, earth_device_reversed=APART["earth_device"],
              earth_total=None))),
    *(("earth-and-insulation", key, (st.none() | LOW).map(lambda volts: earth(
        {"applied_part": "BF"}, insulation_applied=flow(120, "MΩ"), test_voltage=volts)))
      for key in ("insulation", "insulation_applied")),
    *(("earth-and-insulation", key, st.sampled_from([None, NO]).map(lambda on: earth(
        {"applied_part": "CF"}, insulation_applied=flow(120, "MΩ"), switched_on=on)))
      for key in ("insulation", "insulation_applied")),
    *(("leakage-currents", key, st.sampled_from([None, NO]).map(
        lambda answer, choices=choices, condition=condition: leaking(choices, **CURRENTS, **{condition: answer})))
      for condition in ("tested_before", "switched_on")
      for key, choices in (("equipment_leakage", {}), ("applied_leakage", {"applied_part": "BF"}),
                           ("touch_intact", BY_NFPA), ("touch_open", BY_NFPA))),
    *(("leakage-currents", key, FAR.map(
        lambda volts, choices=choices: leaking(choices, **CURRENTS, mains_voltage=volts)))
      for key, choices in (("equipment_leakage", {"method": "differential"}),
                           ("applied_leakage", {"applied_part": "B"}), ("touch_intact", BY_NFPA),
                           ("touch_open", BY_NFPA))),
    ("leakage-currents", "equipment_leakage", figures(1, 110).map(lambda volts: leaking(
        {"method": "alternative"}, equipment_leakage=flow(1, "µA"), tester_voltage=flow(volts, "V")))),
    ("scavenging", "extract_flow", figures(80, 130).map(lambda q: scavenging(q, kind="unknown"))),
    ("scavenging", "extract_flow", (st.none() | figures(0.01, 0.9) | figures(4.3, 9)).map(
        lambda drop: scavenging(drop=drop))),
    ("scavenging", "highest_pressure", (st.none() | figures(0, 33)).map(lambda q: scavenging(inflow=q))),
    ("scavenging", "lowest_pressure", st.sampled_from([None, 0]).map(lambda q: scavenging(q))),
    ("scavenging", "blocked_pressure", (st.none() | figures(0, 71)).map(lambda q: scavenging(blocked=(2, q)))),
    ("apl-valve", "pressure_3", figures(3.4, 25).map(lambda q: apl(((q, 1.2), (30, 2))))),
    ("apl-valve", "pressure_30", figures(4, 26).map(lambda q: apl(((3, 1), (q, 2))))),
    ("apl-valve", "pressure_30", figures(0, 0.8).map(lambda n: apl(((3, 1), (9, 3**n), (40, (40 / 3) ** n))))),
    ("apl-valve", "closed_leak", figures(0.01, 2.69).map(lambda p: apl(held=p, leaked=0))),
    ("apl-valve", "closed_leak", figures(3.31, 9).map(lambda p: apl(held=p, leaked=1))),
    *(("one-way-valves", f"{side}_{key}", sheets) for side in ("inspiratory", "expiratory") for key, sheets in (
        ("resistance", figures(0, 0.8).map(lambda n: one_way(((5, 1), (20, 4**n))))),
        ("resistance", figures(2.3, 3).map(lambda n: one_way(((5, 0.1), (20, 0.1 * 4**n))))),
        ("forward_pressure", figures(0, 6).map(lambda p: one_way(((0, p),)))),
        ("reverse_leak", figures(0.01, 35.9).map(lambda p: one_way(reverse=(0, p)))),
        ("reverse_share", figures(0.01, 35.9).map(lambda p: one_way(reverse=(0, p)))),
    )),
    *(("vaporizer-output", f"output_{rule}", sheets) for rule in ("symmetric", "asymmetric", "audit") for sheets in (
        figures(0, 1.9).map(lambda q, rule=rule: vaporizer(drawn=q, rule=rule)),
        figures(10.2, 60).map(lambda q, rule=rule: vaporizer(drawn=q, rule=rule)),
        st.just(vaporizer(carrier="nitrous oxide", rule=rule)),
        figures(1.3, 4.9).map(lambda dial, rule=rule: vaporizer((dial, dial), (5, 5), rule=rule)),
        figures(0.1, 2.4).map(lambda dial, rule=rule: vaporizer((0.1, 0.1), (dial, dial), rule=rule)),
    )),
    *(("vaporizer-output", key, st.just(vaporizer(rule=rule)).map(
        lambda sound: replace(sound, values={**sound.values, "upset": yes()})))
      for key, rule in (*((f"output_{one}", one) for one in ("symmetric", "asymmetric", "audit")),
                        ("off_output", "symmetric"))),
    *UNCHALLENGED_ACCESSORIES,
    *(("gas-monitor", f"{gas}_error", sheets) for gas, least in (("co2", 3), ("n2o", 20), ("agent", 1), ("oxygen", 40))
      for sheets in (
        figures(0.01, 0.99).map(lambda share, gas=gas, least=least: gas_monitor(
            span={gas: (share * least, share * least)}, monitor="all")),
        figures(6.5, 60).map(lambda u: gas_monitor(u, monitor="all")),
      )),
    *(("gas-monitor", f"{gas}_error", st.just(without_zero(gas))) for gas in ("co2", "n2o", "agent")),
    *(("monitor-readings", f"{what}_{rule}", sheets) for rule in ("anaesthesia", "critical") for what, sheets in (
        ("volume", figures(1, 1.45).map(lambda share, rule=rule: displays(
            ((300, 300), (300 * share, 300 * share)), rule=rule))),
        ("pressure", figures(1, 1.45).map(lambda share, rule=rule: displays(
            pressures=((25, 25), (25 * share, 25 * share)), rule=rule))),
        ("pressure", figures(6, 19.7).map(lambda top, rule=rule: displays(
            pressures=((2, 2), (top, top)), rule=rule))),
      )),
    ("alarms", "alarm_sounds", st.sampled_from(["hanging bellows", "piston", "turbine"]).map(
        lambda drive: disconnected(drive, machine_end_sounds=None))),
    ("alarms", "alarm_sounds", st.sampled_from(["ascending bellows", "hanging bellows", "piston", "turbine"]).flatmap(
        lambda drive: st.sampled_from(
            [{"patient_end_sounds": None}, {"lowest_setting": NO}, {"lowest_setting": None}]).map(
            lambda changed: disconnected(drive, **changed)))),
    ("alarms", "alarm_sounds", st.just(disconnected("record"))),
    ("alarms", "alarm_sounds", st.sampled_from(sorted(TRIALS)).map(
        lambda code: alarm(code, [(one[0], None, one[2]) for one in TRIALS[code]]))),
    ("vaporizer-output", "off_output", st.just(vaporizer((1, 0), (4, 0), off=0))),
    *CLOSED_VOLUMES_UNCHALLENGED,
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
