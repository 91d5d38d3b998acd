"""Forecasts in words, on the page of a machine."""

from datetime import timedelta

import pytest
from django.urls import reverse

from inspections.machine_trends.forecasting import make_forecasts
from inspections.machine_trends.shown_forecast import ShownForecast
from inspections.models import TrendForecast
from inspections.on_machine_page.latest_results import drawn_trends, machine_results
from tests.factories import NOON, load_all_procedures, make_machine, make_person
from tests.inspections.machine_trends.signed_years import FALLING, make_fleet, sign_year, sign_years
from tests.services.rows_of_module import rows_of_module

TEST = "supply-failure"


@pytest.fixture(scope="module")
def made(request):
    with rows_of_module(request, make_falling) as copy:
        yield copy


@pytest.fixture
def falling(db, made):
    """A machine that falls to its limit of 22 psi, among others of its model."""
    return made()


def make_falling():
    load_all_procedures()
    technician = make_person("technician")
    machine = make_machine(model=make_fleet(technician)[0].model)
    content = {"feature": "o2-failure-protection"}
    sign_years(machine, technician, FALLING, lower=22.0, content=content)
    make_forecasts(TEST, at=NOON)
    return machine


def shown(machine, **changes):
    TrendForecast.objects.filter(machine=machine).update(**changes)
    return ShownForecast(TrendForecast.objects.select_related("latest__step").get(machine=machine))


def test_figures_are_in_the_unit_of_the_result_to_the_last_place_of_the_interval(falling):
    found = shown(falling, value=155_475.0, lower=148_000.0, upper=162_950.0, slope=-3654.2, slope_lower=-5000.0,
                  slope_upper=-2308.4)  # fmt: skip
    assert found.expected == "22.5 ± 1.1 psi"
    assert found.drift == "−0.53 ± 0.20 psi a year"


@pytest.mark.parametrize(("chance", "words"), [(0.171, "17 %"), (0.0712, "7.1 %"), (0.0002, "below 0.1 %"), (None, "")])
def test_a_chance_is_in_per_cent(falling, chance, words):
    assert shown(falling, chance=chance).chance == words


def test_the_day_that_passes_the_policy_is_named_or_past(falling):
    assert shown(falling, beyond_on=NOON.date() + timedelta(days=40)).since.startswith("above 5 % from ")
    assert shown(falling, beyond_on=NOON.date()).since == "above 5 % already"
    assert shown(falling, beyond_on=None).since == ""


def test_the_safety_feature_that_the_test_proves_is_named_with_its_hazards(falling):
    ((feature, hazards),) = shown(falling).features
    assert feature == "Oxygen supply-failure protection"
    assert [one.lower() for one in hazards] == ["hypoxic mixture"]


def test_what_the_width_comes_from_adds_up(falling):
    found = shown(falling, drift_share=0.6, machine_share=0.1, measured_share=0.3)
    assert found.shares == "drift 60 %, machine 10 %, measurement 30 %"


def test_the_picture_goes_on_to_the_due_date_and_widens(falling):
    line = shown(falling).line(NOON.date())
    assert (line.start, line.end) == (NOON.date(), TrendForecast.objects.get(machine=falling).due_on)
    assert 0 < line.from_half < line.to_half
    assert line.to_value < line.from_value


def test_the_page_of_the_machine_shows_trend_interval_chance_and_day(falling, client):
    client.force_login(make_person("planner"))
    text = client.get(reverse("inspections:machine_results", args=[falling.pk])).content.decode()
    found = shown(falling)
    for words in (found.drift, found.expected, found.chance, found.shares, "expected "):
        assert words in text
    assert "before the latest result" not in text


def test_a_forecast_older_than_the_latest_result_says_so(falling, client):
    sign_year(falling, make_person("technician"), 23.0, -0.1, lower=22.0)
    client.force_login(make_person("planner"))
    text = client.get(reverse("inspections:machine_results", args=[falling.pk])).content.decode()
    assert "Computed before the latest result" in text


def test_the_trend_that_is_likeliest_to_end_outside_is_drawn_first(falling):
    technician = make_person("technician")
    sign_years(falling, technician, (29.0, 29.1, 29.0, 29.05, 29.0), subject="air")
    for years, value in enumerate((28, 27.5, 28.2)):
        sign_year(make_machine(model=falling.model), technician, value, years, subject="air")
    make_forecasts(TEST, at=NOON + timedelta(days=1))
    assert [one.latest.step.subject for one in drawn_trends(machine_results(falling))] == ["nitrous-oxide", "air"]
