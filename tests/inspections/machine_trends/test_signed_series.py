"""Series of signed results: which results, and where a repair begins a new stretch."""

from datetime import timedelta

import pytest

from fleet.models import CircuitChange
from inspections.machine_trends.signed_series import day_of_years, histories_of, series_of, years_of
from inspections.models import Finding, Inspection, InspectionStep, Result
from tests.factories import NOON, bench_result, load_all_procedures, make_component, make_machine, make_person
from tests.inspections.machine_trends.signed_years import GAS, sign_year, sign_years, years_ago

TEST = "supply-failure"


@pytest.fixture
def technician(db):
    load_all_procedures()
    return make_person("technician")


@pytest.fixture
def machine(technician):
    return make_machine()


def only_series():
    (found,) = series_of(TEST, at=NOON)
    return found


def test_the_results_of_a_machine_are_one_series_oldest_first_in_si(machine, technician):
    sign_years(machine, technician)
    found = only_series()
    assert [round(one.value / 6894.757, 1) for one in found.results] == [25.2, 24.6, 24.3, 23.5, 23.1]
    assert [one.std for one in found.results] == pytest.approx([0.25 * 6894.757] * 5)
    assert found.stretches == [0] * 5


def test_subjects_keys_and_machines_are_series_of_their_own(machine, technician):
    for how in ({}, {"subject": "air"}, {"key": "reset_pressure"}):
        sign_year(machine, technician, 25, 1, **how)
    sign_year(make_machine(model=machine.model), technician, 25, 1)
    assert len(series_of(TEST, at=NOON)) == 4


def test_what_was_not_signed_not_measured_or_long_ago_is_left_out(machine, technician):
    kept = sign_year(machine, technician, 25, 1)
    sign_year(machine, technician, 25, 13)
    reported = sign_year(machine, technician, 25, 2)
    Result.objects.filter(step__inspection=reported).update(decision="")
    untested = sign_year(machine, technician, 25, 3)
    Result.objects.filter(step__inspection=untested).update(decision="not tested")
    words = sign_year(machine, technician, 25, 4)
    Result.objects.filter(step__inspection=words).update(unit="yes/no")
    undone = sign_year(machine, technician, 25, 5)
    Inspection.objects.filter(pk=undone.pk).update(stage="on bench", signed_at=None, signed_by=None)
    assert [one.signed_at for one in only_series().results] == [kept.signed_at]


def test_a_result_too_uncertain_to_be_decided_is_a_measurement(machine, technician):
    sign_year(machine, technician, 25, 1)
    Result.objects.update(decision="not decided")
    assert len(only_series().results) == 1


def test_a_retired_machine_has_no_series(machine, technician):
    sign_years(machine, technician)
    type(machine).objects.filter(pk=machine.pk).update(status="retired")
    assert series_of(TEST, at=NOON) == []


def fail(machine, technician, years, *, closed_years=None):
    """Sign a failing inspection with its finding, closed at a moment if given."""
    result = Result.objects.get(step__inspection=sign_year(machine, technician, 15, years))
    closed = {} if closed_years is None else {"closed_at": years_ago(closed_years), "closing_note": "Repaired."}
    Finding.objects.create(
        machine=machine, origin="failed outcome", result=result, severity="other", title="Trips low",
        opened_at=result.step.inspection.signed_at, **closed,
    )  # fmt: skip


def test_a_repaired_failure_begins_the_level_again(machine, technician):
    sign_year(machine, technician, 25, 4)
    fail(machine, technician, 3, closed_years=2.9)
    sign_year(machine, technician, 26, 2)
    sign_year(machine, technician, 25, 1)
    assert only_series().stretches == [0, 0, 1, 1]


def test_a_failure_that_nobody_repaired_does_not(machine, technician):
    sign_year(machine, technician, 25, 4)
    fail(machine, technician, 3)
    sign_year(machine, technician, 26, 2)
    assert only_series().stretches == [0, 0, 0]


def test_a_failure_that_fails_again_before_its_repair_begins_it_where_it_passes(machine, technician):
    fail(machine, technician, 4, closed_years=2.5)
    sign_year(machine, technician, 16, 3)
    sign_year(machine, technician, 26, 2)
    assert only_series().stretches == [0, 0, 1]


def test_readings_as_left_begin_the_level_again(machine, technician):
    signed = sign_years(machine, technician, (25, 24))
    found = InspectionStep.objects.get(inspection=signed[1])
    InspectionStep.objects.filter(pk=found.pk).update(is_last=False)
    left = InspectionStep.objects.create(
        inspection=signed[1], position=2, code="as-left", test_code=TEST, title="As left", content={},
        as_left_of=found, set_number=2, work_done="Adjusted.", begun_by=technician, begun_at=NOON, **GAS,
    )  # fmt: skip
    row = Result.objects.get(step=found)
    row.pk, row.step, row.value = None, left, row.value * 1.1
    Result.objects.bulk_create([row])
    assert only_series().stretches == [0, 0, 1]


@pytest.mark.parametrize(
    ("kind", "gas", "verb", "begins"),
    [
        ("pressure-regulator", "", "replaced", True),
        ("pressure-regulator", "nitrous-oxide", "fitted", True),
        ("pressure-regulator", "oxygen", "replaced", False),
        ("pressure-regulator", "", "copied", False),
        ("bag", "", "replaced", False),
    ],
)
def test_a_component_after_whose_replacement_the_test_is_repeated_begins_it(
    machine, technician, kind, gas, verb, begins
):
    component = make_component(machine, kind="pressure-regulator", gas="nitrous-oxide", label="N2O regulator")
    how = {"component": component, "content": {"repeat_after": ["pressure-regulator"]}}
    sign_year(machine, technician, 25, 2, **how)
    sign_year(machine, technician, 26, 1, **how)
    day = years_ago(1.5).date()
    change = CircuitChange.objects.create(
        machine=machine, verb=verb, changed_on=day, words="Fitted", recorded_at=years_ago(1.5)
    )
    make_component(machine, kind=kind, gas=gas, label="New", fitted_on=day, fitted_in=change)
    assert only_series().stretches == [0, int(begins)]


def test_another_component_under_the_same_test_begins_it(machine, technician):
    for years in (2, 1):
        component = make_component(machine, kind="pressure-regulator", label=f"Regulator {years}")
        sign_year(machine, technician, 25, years, component=component)
    assert only_series().stretches == [0, 1]


def test_a_component_replaced_on_the_day_of_an_inspection_counts_from_the_next_one(machine, technician):
    old = {"content": {"repeat_after": ["pressure-regulator"]}}
    for years in (3, 2, 1):
        sign_year(machine, technician, 25, years, **old)
    change = CircuitChange.objects.create(
        machine=machine, verb="replaced", changed_on=years_ago(2).date(), words="Fitted", recorded_at=years_ago(2)
    )
    make_component(machine, kind="pressure-regulator", label="New", fitted_on=years_ago(2).date(), fitted_in=change)
    assert only_series().stretches == [0, 0, 1]


@pytest.mark.parametrize("machines", [1, 5])
def test_the_queries_do_not_grow_with_the_machines(technician, django_assert_num_queries, machines):
    model = make_machine().model
    for _ in range(machines):
        content = {"repeat_after": ["pressure-regulator"]}
        sign_years(make_machine(model=model), technician, (25, 24), content=content)
    with django_assert_num_queries(4):
        series_of(TEST, at=NOON)


def test_families_are_models_and_kinds_are_subject_and_key(machine, technician):
    sign_years(machine, technician, (25, 24))
    sign_years(make_machine(), technician, (25, 24))
    sign_year(machine, technician, 25, 1, subject="air")
    found = histories_of(series_of(TEST, at=NOON))
    assert (found.count, len(found.kind), int(found.kind.max()) + 1) == (3, 3, 2)


def test_days_go_to_the_scale_of_years_and_back():
    for days in range(0, 800, 7):
        moment = NOON + timedelta(days=days)
        assert day_of_years(years_of(moment)) == moment.date()


def test_a_result_is_as_the_bench_made_it(machine, technician):
    sign_year(machine, technician, 25, 1)
    (one,) = only_series().results
    assert (one.value, one.lower, one.decision) == (bench_result(25.0).value_si, pytest.approx(20 * 6894.757), "pass")
