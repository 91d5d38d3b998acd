"""What the instruments of a site can judge is said before the work."""

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.actions import enter_calibration_points
from fleet.calibration.points import Point, ScalePoints
from fleet.models import Instrument
from inspections.actions import plan_inspection
from inspections.at_bench.needed_instruments import AskedStep, needed_instruments
from inspections.bench import lacking
from inspections.bench.examples import EXAMPLES
from inspections.bench.passages import EQUIPMENT
from tests.factories import NOON, TODAY, make_instrument, make_person, make_site

PRESSURE = {"dimension": "pressure", "unit": "kPa", "low": 0, "high": 1000, "resolution": 0.1}
PIPELINE = AskedStep("Pipeline", "pipeline-supply", {})


@pytest.fixture
def site(db):
    return make_site()


def gauge(site, code="G-1", **accuracy):
    return make_instrument(site=site, code=code, scales=[PRESSURE | accuracy])


def asked(site, *steps):
    return needed_instruments(steps or [PIPELINE], site, TODAY)


def pressure(site):
    return next(one for one in asked(site)[0].results if "under flow" not in one.label and "drop" not in one.label)


def test_a_fine_gauge_is_good_enough_and_named(site):
    gauge(site, of_reading_percent=0.2)
    step = asked(site)[0]
    assert step.instruments == ("G-1",) and step.is_enough and pressure(site).standing == "good enough"


def test_none_is_good_enough_and_what_is_needed_is_said_in_the_unit_of_the_reading(site):
    gauge(site, of_span_percent=10)
    one = pressure(site)
    assert one.standing == "not good enough"
    assert one.needed.startswith("U of ") and "pressure ± " in one.needed.lower() and "(k = 2)" in one.needed


def test_between_one_and_four_it_is_usable(site):
    gauge(site, of_span_percent=2)
    assert pressure(site).standing == "below 4 : 1"


def test_the_best_of_several_is_taken_and_one_out_of_calibration_is_not(site):
    gauge(site, of_span_percent=10)
    late = make_instrument(site=site, code="G-2", scales=[PRESSURE | {"absolute": 0.1}], due_on=None)
    assert asked(site)[0].instruments == ("G-1",)
    gauge(site, code="G-3", absolute=0.5)
    assert asked(site)[0].instruments == ("G-3",) and late.code not in str(asked(site))


def test_a_dimension_that_none_measures_is_named_with_what_would_do(site):
    step = asked(site)[0]
    assert step.instruments == () and "pressure" in step.lacking[0]
    assert step.results[0].standing == "no instrument" and "(k = 2)" in step.results[0].needed


def test_corrections_count_where_they_are_applied(site):
    one = gauge(site, of_span_percent=2)
    before = pressure(site).uncertainty
    points = tuple(Point(value, value + 3, 0.2) for value in (0, 500, 1000))
    held = ScalePoints(one.scales.get().pk, "kPa", points)
    enter_calibration_points(one.calibrations.get(), held, by=None, at=NOON)
    assert pressure(site).uncertainty == before
    Instrument.objects.update(applies_corrections=True)
    assert pressure(site).standing == "good enough"


def test_equal_steps_are_shown_once_with_both_titles(site):
    gauge(site, of_reading_percent=0.2)
    steps = asked(site, PIPELINE, AskedStep("Second pipeline", "pipeline-supply", {}))
    assert [one.titles for one in steps] == [("Pipeline", "Second pipeline")]


def test_the_queries_do_not_grow_with_steps_and_instruments(site, django_assert_num_queries):
    gauge(site, of_reading_percent=0.2)
    with django_assert_num_queries(2):
        asked(site)
    for number in range(2, 6):
        gauge(site, code=f"G-{number}", absolute=1)
    with django_assert_num_queries(2):
        asked(site, PIPELINE, AskedStep("Flush", "oxygen-flush", {}))


@pytest.fixture
def today(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOON)


def test_the_page_of_an_inspection_in_progress_names_them_by_its_own_limits(client, scene, today):
    client.force_login(scene.technician)
    url = reverse("inspections:inspection_instruments", args=[scene.inspection.pk])
    assert url in client.get(scene.inspection.get_absolute_url()).content.decode()
    page = client.get(url).content.decode()
    assert "Oxygen supply failure" in page and "Trip pressure" in page and " : 1" in page


def test_the_page_of_a_planned_inspection_follows_the_procedure_in_force(client, scene, today):
    planned = plan_inspection(scene.machine, scene.procedure, due_on=TODAY, by=scene.technician, at=NOON)
    client.force_login(scene.technician)
    page = client.get(reverse("inspections:inspection_instruments", args=[planned.pk])).content.decode()
    assert "Oxygen flush" in page and "Trip pressure" in page


def test_a_signed_inspection_needs_none(client, scene):
    scene.complete()
    signed = scene.sign()
    client.force_login(scene.technician)
    answer = client.get(reverse("inspections:inspection_instruments", args=[signed.pk]))
    assert answer.headers["Location"] == signed.get_absolute_url()


def test_the_page_of_a_procedure_asks_for_a_site_that_the_person_sees(client, scene, today):
    client.force_login(make_person("auditor", sites=[scene.machine.site]))
    url = reverse("inspections:procedure_instruments", args=[scene.procedure.pk])
    assert "Trip pressure" in client.get(url).content.decode()
    assert client.get(url, {"site": make_site().pk}).status_code == 400


def test_no_instrument_is_asked_for_what_the_machine_lacks(site):
    with_one, by_hand = (
        asked(site, AskedStep("Bags", "two-bag", {}, frozenset(lacks))) for lacks in ((), ("ventilator",))
    )
    assert "Pressure left between breaths" in str(with_one)
    assert "between breaths" not in str(by_hand)


@pytest.mark.parametrize("code", EXAMPLES)
def test_every_test_says_what_it_needs_on_a_machine_that_lacks_all_that_can_be_lacking(site, code):
    asked(site, AskedStep("Bare", code, {}, lacking(code, frozenset(EQUIPMENT))))
