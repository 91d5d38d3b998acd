"""Which inspections of the demonstration prove less than they should."""

from types import SimpleNamespace

from config.demo.habits import HABITS, SHARE, habit_of
from inspections.at_bench.procedure_files import read_procedures
from inspections.bench import TESTS

SOUND = SimpleNamespace(has_any_fault=lambda day: False, has_outlet_valve=True)
WORN = SimpleNamespace(has_any_fault=lambda day: True, has_outlet_valve=True)
WITHOUT_VALVE = SimpleNamespace(has_any_fault=lambda day: False, has_outlet_valve=False)


def planned(number, note=""):
    """An inspection of one of a hundred machines, with as many before it as the number has hundreds."""
    earlier = SimpleNamespace(count=lambda: number // 100)
    machine = SimpleNamespace(
        asset_number=f"OH-{number % 100:03}", inspections=SimpleNamespace(filter=lambda **which: earlier)
    )
    return SimpleNamespace(machine=machine, procedure=SimpleNamespace(code="yearly"), note=note, pk=1)


def habits(truth, note=""):
    return [habit_of(planned(number, note), truth, None) for number in range(1000)]


def test_a_minority_of_inspections_has_a_habit_and_each_habit_comes_up():
    found = [habit for habit in habits(SOUND) if habit]
    assert SHARE / 2 < len(found) / 1000 < SHARE * 1.5
    assert set(found) == set(HABITS)


def test_a_faulty_machine_and_a_repeated_inspection_get_careful_work():
    assert set(habits(WORN)) == {""}
    assert set(habits(SOUND, note="Inspection 1 was incomplete.")) == {""}


def test_positive_pressure_is_a_fault_only_where_a_valve_hides_leaks():
    assert "positive pressure" not in habits(WITHOUT_VALVE)


def test_each_habit_spoils_a_test_or_a_step_that_the_procedures_have():
    codes = {step["code"] for procedure in read_procedures() for step in procedure["step"]}
    assert {test for test, _ in HABITS.values()} <= set(TESTS)
    assert {step for _, step in HABITS.values() if step} <= codes
