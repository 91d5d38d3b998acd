"""Simulated technicians: careful work proves every result, and each bad habit leaves one unproved."""

import random
from datetime import date
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis.strategies import builds, floats, sampled_from

from config.demo.bench_work import WORK, BenchWork
from config.demo.gas_flow import ambient_pa_abs
from config.demo.habits import HABITS
from config.demo.truth import LITRE_PER_MINUTE, ML_PER_MINUTE, PIPELINE, PSI, Truth, pipeline_of
from inspections.bench import TESTS, Context, Decision, Reading, Sheet, Zero, decide, from_si
from inspections.bench.rules import rules_that_apply
from tests.inspections.bench.making import evaluate

TODAY = date(2026, 6, 1)
TWO_VAPORIZERS = SimpleNamespace(on=lambda day: [SimpleNamespace(kind="vaporizer")] * 2)
MACHINE = SimpleNamespace(components=TWO_VAPORIZERS, model=None)
SPOILED = [(habit, test) for habit, (test, step) in HABITS.items() if not step and habit != "sweep in steps of 5 psi"]


def machine(**more):
    """A machine in good order: its figures lie within what its kind of machine has when new."""
    trip, regulator = more.pop("trip", 25 * PSI), more.pop("regulator", 45 * PSI)
    altitude_m = more.pop("altitude_m", 0)
    fields = {"kind": "shut-off", "has_ratio": True, "ageing": 1.0, "pipeline_pa": 52 * PSI} | more
    return Truth(
        rng=random.Random(1), new_on=TODAY, trip_pa={"nitrous-oxide": trip}, regulator_pa={"oxygen": regulator},
        ambient_abs=ambient_pa_abs(altitude_m), **fields,
    )  # fmt: skip


MACHINES = builds(
    machine,
    kind=sampled_from(["shut-off", "proportional"]),
    trip=floats(23.5 * PSI, 26.5 * PSI),
    regulator=floats(43 * PSI, 47 * PSI),
    pipeline_pa=floats(51 * PSI, 54 * PSI),
    leak_m3_s=floats(2 * ML_PER_MINUTE, 20 * ML_PER_MINUTE),
    breathing_volume_m3=floats(3.5e-3, 5.5e-3),
    lowest_fraction=floats(0.27, 0.31),
    flush_m3_s=floats(40 * LITRE_PER_MINUTE, 65 * LITRE_PER_MINUTE),
    has_outlet_valve=sampled_from([True, False]),
    altitude_m=floats(0, 2500),
)


def results_of(test_code, truth, *, habit="", decays=False):
    """What the bench makes of the readings that a technician takes with gauges without error."""
    step = SimpleNamespace(
        test_code=test_code, code="any", subject="nitrous-oxide", content={},
        component=SimpleNamespace(gas="oxygen", rated={}),
        inspection=SimpleNamespace(machine=MACHINE),
    )  # fmt: skip
    entries = BenchWork(step, truth, TODAY, habit, random.Random(7), decays).entries()
    valve = "fitted" if truth.has_outlet_valve else "not fitted"
    context = Context(
        ambient_pa_abs=truth.ambient_abs, features={"outlet-check-valve": valve}, vaporizers=2, built_year=2015
    )
    return evaluate(test_code, sheet_of(TESTS[test_code], entries), context).results


def sheet_of(test, entries):
    choices = {spec.key for spec in test.choices}
    values, tables = {}, {}
    for entry in entries:
        if entry.column:
            tables.setdefault(entry.field, {}).setdefault(entry.row, {})[entry.column] = reading(test, entry)
        elif entry.field not in choices:
            values[entry.field] = reading(test, entry)
    rows = {key: tuple(table[number] for number in sorted(table)) for key, table in tables.items()}
    return Sheet(values, rows, {entry.field: entry.word for entry in entries if entry.field in choices})


def reading(test, entry):
    spec = test.reading_at(entry.field, entry.column)
    value = {"yes": 1.0, "no": 0.0}.get(entry.word, entry.value)
    zero = Zero.GAUGE if spec.dimension == "pressure" else None
    return Reading(round(from_si(value, spec.units[0]), 6), spec.units[0], zero)


def test_a_technician_knows_every_bench_test():
    assert set(WORK) == set(TESTS)


@pytest.mark.parametrize("test_code", WORK)
@given(truth=MACHINES)
def test_careful_work_on_a_machine_in_good_order_proves_every_result(test_code, truth):
    results = results_of(test_code, truth)
    assert results
    for result in results:
        assert result.decision in (None, Decision.PASS, Decision.CONDITIONAL_PASS), (result.key, result.why)


@given(truth=MACHINES)
def test_a_pressure_that_falls_while_the_gas_warms_proves_the_breathing_system(truth):
    leak = next(one for one in results_of("breathing-system-leak", truth, decays=True) if one.key == "leak")
    assert leak.decision is Decision.PASS
    assert abs(leak.value_si - truth.breathing_leak_at(TODAY)) < 0.15 * truth.breathing_leak_at(TODAY)


@pytest.mark.parametrize(("habit", "test_code"), SPOILED)
@given(truth=MACHINES)
def test_each_habit_leaves_a_result_unproved(habit, test_code, truth):
    if habit == "positive pressure":
        truth.has_outlet_valve = True
    open_results = [
        one for one in results_of(test_code, truth, habit=habit) if one.decision and not one.decision.is_proof
    ]
    assert open_results


@pytest.mark.parametrize("rule_set", PIPELINE)
@pytest.mark.parametrize("away", [-6e3, 8e3])
def test_the_pipeline_pressure_of_a_site_lies_within_the_rules_of_its_set(rule_set, away):
    truth = machine(pipeline_pa=pipeline_of(SimpleNamespace(rule_set=rule_set), away))
    at_machine = {"pressure": truth.pipeline_at(0), "flowing_pressure": truth.pipeline_at(10 * LITRE_PER_MINUTE)}
    for key, pressure in at_machine.items():
        for limit in rules_that_apply(TESTS["pipeline-supply"].default_limits, key, rule_set=rule_set):
            assert decide(pressure, 500.0, limit).decision is Decision.PASS, limit.title


def test_positive_pressure_hides_what_leaks_before_an_outlet_check_valve():
    """28 of 54 leaks were found by positive pressure, all by suction. Source: Anesth Analg 1997; 84: 179-84."""
    truth = machine(has_outlet_valve=True)
    truth.faults["perished seal"] = TODAY
    assert truth.leak_at(TODAY, -3000.0) > 100 * ML_PER_MINUTE
    assert truth.leak_at(TODAY, 3000.0) < 30 * ML_PER_MINUTE
    truth.has_outlet_valve = False
    assert truth.leak_at(TODAY, 3000.0) > 100 * ML_PER_MINUTE


@pytest.mark.parametrize(
    ("fault", "test_code", "key"),
    [
        ("weak spring", "supply-failure", "trip_pressure"),
        ("stuck open", "supply-failure", "trip_pressure"),
        ("perished seal", "low-pressure-leak", "leak"),
        ("worn link", "oxygen-mixture", "lowest_fraction"),
        ("creeping seat", "regulator", "creep_total"),
    ],
)
def test_careful_work_finds_each_fault(fault, test_code, key):
    truth = machine()
    truth.faults[fault] = TODAY
    decisions = {one.key: one.decision for one in results_of(test_code, truth)}
    assert decisions[key] is Decision.FAIL
