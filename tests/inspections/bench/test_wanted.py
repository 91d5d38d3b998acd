"""What a form asks for under each choice: nothing that a result waits for is left out, and nothing that none reads."""

from dataclasses import replace
from itertools import product

import pytest

from inspections.bench import Sheet
from inspections.bench.measuring import Bench
from inspections.bench.registry import TESTS
from inspections.bench.wanted import is_wanted
from tests.inspections.bench.making import context, evaluate, flow, pressure, rows, sheet
from tests.inspections.bench.sound_accessories import FILLED_ACCESSORIES
from tests.inspections.bench.sound_closed_volumes import cylinder, held
from tests.inspections.bench.sound_sheets import (
    CREDIT,
    SOUND,
    STEADY,
    TOUCHED,
    TRIALS,
    alarm,
    disconnected,
    kpa,
    leak,
    mixture,
    one_way,
    regulator,
    seconds,
    supply,
    vaporizer,
    ventilator,
)

DECAY = {"time": seconds, "pressure": kpa}
UNUSED = "The chosen method does not use it."


def every_way(sign):
    """A leak test with the readings of every method; those of suction have the sign -1."""
    values = {
        "makeup_flow": flow(10, "mL/min"), "makeup_pressure": kpa(3.0 * sign), "rigid_volume": flow(1000, "mL"),
        "compliance": flow(1, "mL/kPa"), "injected_volume": flow(30, "mL"), "injected_before": kpa(0),
        "injected_after": kpa(3.0 * sign), "added_leak_flow": flow(100, "mL/min"),
        "added_leak_pressure": kpa(3.0), **STEADY,
    }  # fmt: skip
    falls = {"decay": ((0, 3.1), (30, 3.0), (60, 2.95)), "decay_added": ((0, 3.1), (30, 2.5), (60, 2.0))}
    tables = {key: rows(DECAY, *((t, p * sign) for t, p in points)) for key, points in falls.items()}
    if sign < 0:
        tables["vaporizers"] = rows({"flow": lambda q: flow(q, "mL/min"), "pressure": kpa}, (10, -3.0))
    return sheet(values, tables)


SUPPLY_TABLE = rows({"inlet": pressure, "outlet": pressure}, (1700, 45), (300, 45.5))
FLUSH = {"flow": flow(50), "volume": flow(5, "L"), "time": flow(6, "s"), "stops_on_release": flow(1, "yes/no")}
ALARM = {"alarm_pressure": pressure(29.5), "alarm_delay": seconds(2), "alarm_duration": seconds(9)}
TOUCH_AND_OWN = {key: one for key, one in TOUCHED.items() if one} | {
    "touch_reference": flow(280, "µA"), "tester_voltage": flow(225, "V"),
}  # fmt: skip
OFF = {"control_moves": flow(1, "yes/no")}


def with_more(given, values=None, tables=None):
    return replace(given, values={**given.values, **(values or {})}, tables={**given.tables, **(tables or {})})


FILLED = {
    "supply-failure": with_more(supply(), ALARM | {"trip_fraction": flow(50, "%")}),
    "regulator": with_more(regulator(lockup_pressure=45.6), tables={"supply": SUPPLY_TABLE}),
    "pipeline-supply": SOUND["pipeline-supply"][0],
    "low-pressure-leak": every_way(-1),
    "breathing-system-leak": every_way(1),
    "apl-valve": SOUND["apl-valve"][0],
    "one-way-valves": with_more(one_way(), one_way(reverse=None).values),
    "scavenging": SOUND["scavenging"][0],
    "oxygen-mixture": with_more(mixture((0.5, 6, 0.7, 2)), OFF),
    "flowmeter": SOUND["flowmeter, with its card"][0],
    "basal-flow": SOUND["basal-flow"][0],
    "oxygen-flush": sheet(FLUSH),
    "oxygen-analyser": SOUND["oxygen-analyser"][0],
    "gas-monitor": with_more(SOUND["gas-monitor"][0], tables=SOUND["gas-monitor, saturated"][0].tables),
    "monitor-readings": SOUND["monitor-readings"][0],
    "alarms": with_more(
        disconnected(),
        {"sounds": flow(1, "yes/no")},
        {key: table for code in TRIALS for key, table in alarm(code).tables.items()},
    ),
    "earth-and-insulation": SOUND["earth-and-insulation"][0],
    "leakage-currents": with_more(SOUND["leakage-currents"][0], TOUCH_AND_OWN),
    "vaporizer-output": vaporizer(),
    "ventilator-volume": ventilator(changed={"hose_volume": flow(2, "L")}),
    "cylinder-content": with_more(cylinder(), {"driving_flow": flow(8)}),
    "pressure-gauge": SOUND["pressure-gauge"][0],
    "high-pressure-leak": SOUND["high-pressure-leak, inlet"][0],
    "negative-pressure-leak": SOUND["negative-pressure-leak"][0],
    "breathing-compliance": with_more(held(), {"compliance": flow(2.5, "mL/cmH2O")}),
    **FILLED_ACCESSORIES,
    "observation": SOUND["observation"][0],
}
HERE = context(vaporizers=1)


def specs(test):
    return (*test.readings, *test.tables)


def combinations(test):
    """Every combination of the options of a test's choices."""
    options = [[(spec.key, value) for value, _ in spec.options] for spec in test.choices]
    return [dict(chosen) for chosen in product(*options)]


def hidden(test, chosen):
    return {spec.key for spec in specs(test) if not is_wanted(spec, chosen)}


def without(given, keys):
    return Sheet(
        {key: one for key, one in given.values.items() if key not in keys},
        {key: one for key, one in given.tables.items() if key not in keys},
        given.choices,
    )


def needed_decisions(test, given):
    """What is decided of each result that a complete sheet must give, and its evaluation."""
    evaluation = evaluate(test.code, given, HERE)
    bench = Bench(test, given, HERE)
    wanted = {spec.key for spec in test.results if spec.is_needed(bench)}
    wanted |= {key for spec in test.readings if spec.required for key in spec.judges}
    return {one.key: (one.decision, one.value_si) for one in evaluation.results if one.key in wanted}, evaluation


@pytest.mark.parametrize("code", TESTS)
def test_a_field_that_is_not_shown_is_never_missing_and_changes_no_decision(code):
    test = TESTS[code]
    for chosen in combinations(test):
        given = replace(FILLED[code], choices=chosen)
        full, before = needed_decisions(test, given)
        shown, after = needed_decisions(test, without(given, hidden(test, chosen)))
        assert (shown, after.missing) == (full, before.missing), chosen


@pytest.mark.parametrize("code", TESTS)
def test_a_field_that_the_chosen_options_leave_unread_is_not_shown(code):
    test = TESTS[code]
    for chosen in combinations(test):
        given = without(replace(FILLED[code], choices=chosen), hidden(test, chosen))
        evaluation = evaluate(code, given, HERE)
        assert not evaluation.missing, chosen
        assert [one for one in evaluation.not_judged if one.reason == UNUSED] == [], chosen


def credited(test, given):
    found, evaluation = needed_decisions(test, given)
    return set() if evaluation.missing else {key for key, (decision, _) in found.items() if decision in CREDIT}


def sound(test):
    """Sheets of the test with every field filled and a credit for each result that is needed, by what was chosen."""
    own = [given for name, (given, _) in SOUND.items() if name.partition(",")[0] == test.code]
    filled = [replace(FILLED[test.code], choices=chosen) for chosen in combinations(test)]
    if test.code == "breathing-system-leak":
        own.append(leak(drawn=60))
    return [given for given in (*own, *filled) if credited(test, given)]


def is_optional(spec):
    return spec.is_optional if hasattr(spec, "judges") else not (spec.min_rows or spec.is_expected)


@pytest.mark.parametrize("code", TESTS)
def test_without_the_optional_fields_no_needed_result_is_lost(code):
    test = TESTS[code]
    optional = {spec.key for spec in specs(test) if is_optional(spec)}
    for given in sound(test):
        assert not credited(test, given) - credited(test, without(given, optional)), given.choices


@pytest.mark.parametrize("code", TESTS)
def test_without_a_field_that_is_not_optional_a_needed_result_is_lost(code):
    test = TESTS[code]
    sheets = sound(test)
    for spec in [one for one in specs(test) if not is_optional(one)]:
        filled = [one for one in sheets if spec.key in {*one.values, *one.tables}]
        shown = [one for one in filled if is_wanted(spec, chosen_in(test, one))]
        assert any(credited(test, one) - credited(test, without(one, {spec.key})) for one in shown), spec.key


def chosen_in(test, given):
    return {spec.key: given.choices.get(spec.key, spec.default) for spec in test.choices}


def test_what_is_wanted_with_an_option_that_is_not_offered_cannot_be_declared():
    flush = TESTS["oxygen-flush"]
    odd = replace(flush.readings[0], wanted=((("method", "guessed"),),))
    with pytest.raises(TypeError, match="flow is wanted with"):
        replace(flush, readings=(odd, *flush.readings[1:]))
