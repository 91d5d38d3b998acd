"""Stored forecasts: what is stored, when it is made, and for whom."""

from datetime import timedelta

import pytest

from fleet.jobs.running import run_waiting_job
from fleet.models import Job
from inspections.actions import plan_inspection
from inspections.jobs.trends import TRENDS, request_trends_of
from inspections.machine_trends.forecasting import make_forecasts, measured_tests
from inspections.machine_trends.signed_series import years_of_noon
from inspections.models import Procedure, Result, TrendForecast
from inspections.trends import predicted
from tests.factories import NOON, load_all_procedures, make_machine, make_person
from tests.inspections.machine_trends.signed_years import FALLING, make_fleet, sign_years

TEST = "supply-failure"
PSI = 6894.757293


@pytest.fixture
def technician(db):
    load_all_procedures()
    return make_person("technician")


def make(**how):
    return make_forecasts(TEST, at=NOON, **how)


def test_a_machine_that_falls_to_its_limit_is_foretold_with_chance_day_and_advice(technician):
    fleet = make_fleet(technician)
    falling = make_machine(model=fleet[0].model)
    sign_years(falling, technician, FALLING, lower=22.0)
    plan_inspection(
        falling, Procedure.objects.get(code="yearly"), due_on=(NOON + timedelta(days=365)).date(), by=None, at=NOON
    )
    assert make() == 5
    found = TrendForecast.objects.get(machine=falling)
    # alone -0.53 psi a year to 22.55 psi (worked vector); the family falls by 0.4
    assert -0.60 < found.slope / PSI < -0.40
    assert found.slope_lower < found.slope < found.slope_upper
    assert 22.4 < found.value / PSI < 22.8
    assert found.lower < found.value < found.upper
    assert 0.0 < found.chance < 0.25
    assert found.drift_share + found.machine_share + found.measured_share == pytest.approx(1)
    assert (found.results, found.due_on) == (5, (NOON + timedelta(days=365)).date())
    assert found.beyond_on is None or found.beyond_on >= NOON.date()
    assert found.latest == Result.objects.filter(step__inspection__machine=falling).latest("pk")


def test_two_results_are_too_few_and_three_suffice(technician):
    fleet = make_fleet(technician)
    two, three = make_machine(model=fleet[0].model), make_machine(model=fleet[0].model)
    sign_years(two, technician, (25, 24.5))
    sign_years(three, technician, (25, 24.5, 24.1))
    make()
    assert not TrendForecast.objects.filter(machine=two).exists()
    assert TrendForecast.objects.filter(machine=three).exists()


def test_what_never_changed_on_any_machine_has_no_trend(technician):
    for _ in range(2):
        sign_years(make_machine(), technician, (25, 25, 25))
    assert make() == 0


def test_a_result_without_a_limit_has_a_trend_and_no_chance(technician):
    fleet = make_fleet(technician)
    Result.objects.update(limit_lower=None)
    make()
    found = TrendForecast.objects.filter(machine=fleet[0]).get()
    assert (found.chance, found.chance_without_measuring, found.beyond_on, found.advice) == (
        None,
        None,
        None,
        "nothing",
    )
    assert not TrendForecast.objects.towards_a_limit().exists()


def test_made_again_a_forecast_is_replaced_and_one_that_no_longer_holds_removed(technician):
    fleet = make_fleet(technician)
    make()
    Result.objects.filter(step__inspection__machine=fleet[0]).update(decision="")
    later = NOON + timedelta(days=1)
    assert make_forecasts(TEST, at=later) == 3
    assert TrendForecast.objects.count() == 3
    assert set(TrendForecast.objects.values_list("made_at", flat=True)) == {later}


def test_one_machine_is_made_with_its_model_and_others_keep_theirs(technician):
    fleet = make_fleet(technician)
    make()
    later = NOON + timedelta(days=1)
    assert make_forecasts(TEST, at=later, machine=fleet[1]) == 1
    assert TrendForecast.objects.filter(made_at=later).get().machine == fleet[1]
    assert TrendForecast.objects.count() == 4


@pytest.mark.parametrize(
    ("planned", "due"),
    [
        ({}, (NOON + timedelta(days=365)).date()),
        ({"yearly": 100}, (NOON + timedelta(days=100)).date()),
        ({"yearly": 100, "half-yearly": 20}, (NOON + timedelta(days=100)).date()),
        ({"half-yearly": 20}, (NOON + timedelta(days=20)).date()),
        ({"yearly": -50}, NOON.date()),
    ],
)
def test_the_due_date_is_that_of_the_procedure_that_measured_it_and_not_past(technician, planned, due):
    machine = make_machine()
    sign_years(machine, technician)
    for code, days in planned.items():
        on = (NOON + timedelta(days=days)).date()
        plan_inspection(machine, Procedure.objects.get(code=code), due_on=on, by=None, at=NOON)
    make()
    assert TrendForecast.objects.get().due_on == due


def test_the_job_makes_the_trends_of_every_test_and_one_after_a_signature_of_its_machine(technician):
    fleet = make_fleet(technician)
    assert measured_tests() == [TEST]
    job = request_trends_of(fleet[0], at=NOON)
    assert request_trends_of(fleet[0], at=NOON) == job
    run_waiting_job(job.pk, clock=lambda: NOON, pulse=False)
    job.refresh_from_db()
    assert job.result == "1 trend computed."
    assert TrendForecast.objects.get().machine == fleet[0]
    assert Job.objects.get().kind == TRENDS


def test_a_stored_trend_predicts_as_it_did(technician):
    make_fleet(technician)
    make()
    found = TrendForecast.objects.first()
    ahead = predicted(found.fitted, [years_of_noon(found.due_on)])
    low, high = ahead.interval()
    assert (ahead.value[0], low[0], high[0]) == pytest.approx((found.value, found.lower, found.upper))


def test_the_queries_do_not_grow_with_the_machines(technician, django_assert_num_queries):
    make_fleet(technician, count=3)
    make()
    with django_assert_num_queries(8) as few:
        make_forecasts(TEST, at=NOON + timedelta(days=1))
    model = make_fleet(technician, count=3)[0].model
    sign_years(make_machine(model=model), technician)
    with django_assert_num_queries(len(few.captured_queries)):
        make_forecasts(TEST, at=NOON + timedelta(days=2))
