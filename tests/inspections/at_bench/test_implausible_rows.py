"""Rows that no entrance would take, written straight into the database: every page opens, and they can be corrected."""

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.models import InstrumentScale
from inspections.actions import reasons_against_signing, set_limit_override
from inspections.api.answers import EvaluationOut, evaluation_answer
from inspections.at_bench.evaluation import Evaluator
from inspections.errors import NotReadyToSign
from inspections.models import Inspection, LimitOverride, Reading
from tests.decisions import send
from tests.factories import NOON, PASSWORD, make_component

READINGS = {
    "huge": {"as_read": "1e308"}, "no number": {"as_read": "nan"}, "a word": {"as_read": "often"},
    "denormal": {"as_read": "5e-324"},
    "unknown unit": {"unit": "furlong"}, "other unit": {"unit": "L/min"},
    "odd zero": {"zero": "other"}, "absolute": {"as_read": "-1", "zero": "absolute"},
}  # fmt: skip
SCALES = {
    "resolution": {"resolution": 1e308}, "accuracy": {"absolute": 1e308},
    "coverage": {"coverage_factor": 5e-324}, "unit": {"unit": "furlong"},
    "dimension": {"dimension": "luck"}, "other unit": {"unit": "L/min"}, "denormal step": {"resolution": 5e-324},
}  # fmt: skip
CONDITIONS = {
    "ambient": {"ambient_kpa_abs": 1013.0}, "endless": {"ambient_kpa_abs": 1e308},
    "kelvin": {"temperature_c": 293.0}, "cold": {"temperature_c": -1e308},
}  # fmt: skip


@pytest.fixture(autouse=True)
def on_the_day(time_machine):
    time_machine.move_to(NOON + timedelta(hours=1), tick=False)


@pytest.fixture
def bench(scene, client):
    client.force_login(scene.technician)
    scene.complete()
    return client


def pages(scene):
    """Every page of an inspection on the bench."""
    yield scene.inspection.get_absolute_url()
    yield reverse("inspections:sign", args=[scene.inspection.pk])
    yield scene.machine.get_absolute_url()
    for step in scene.inspection.steps.all():
        yield step.get_absolute_url()


def open_all(client, scene):
    """Open every page. Return the text of the step on which the row can be corrected, and of the sign page."""
    texts = {}
    for page in pages(scene):
        response = client.get(page)
        assert response.status_code == 200, page
        texts[page] = response.content.decode()
    return texts[scene.step().get_absolute_url()], texts[reverse("inspections:sign", args=[scene.inspection.pk])]


def refuse_signing(client, scene):
    """Signing is refused in words, by the action and by the page."""
    assert reasons_against_signing(scene.inspection)
    with pytest.raises(NotReadyToSign):
        scene.sign()
    answer = send(client, reverse("inspections:sign", args=[scene.inspection.pk]), {"password": PASSWORD})
    assert answer.status_code == 422
    assert not Inspection.objects.get(pk=scene.inspection.pk).is_signed


def error_of(scene):
    return Evaluator(scene.inspection).evaluate(scene.step()).error


@pytest.mark.parametrize("fields", READINGS.values(), ids=READINGS)
def test_an_implausible_reading_is_told_on_its_page_corrected_there_and_signed(bench, scene, fields):
    Reading.objects.filter(field="full_pressure").update(**fields)
    assert error_of(scene)
    open_all(bench, scene)
    refuse_signing(bench, scene)
    data = {"slot": "full_pressure", "full_pressure": "50", "full_pressure:unit": "psi", "full_pressure:zero": "gauge",
            "full_pressure:instrument": scene.gauge.pk}  # fmt: skip
    data["full_pressure:seen"] = Reading.objects.current().get(field="full_pressure").pk
    assert bench.post(scene.url("reading_enter"), data, headers={"HX-Request": "true"}).status_code == 200
    assert error_of(scene) == ""
    assert scene.sign().is_signed


@pytest.mark.parametrize("fields", SCALES.values(), ids=SCALES)
def test_a_reading_by_an_implausible_instrument_is_told_and_can_be_signed_with_another(bench, scene, fields):
    InstrumentScale.objects.filter(instrument=scene.gauge, dimension="pressure").update(**fields)
    assert scene.gauge.code in error_of(scene)
    open_all(bench, scene)
    refuse_signing(bench, scene)
    Reading.objects.filter(instrument=scene.gauge).update(instrument=scene.flowmeter)
    assert error_of(scene) == ""
    open_all(bench, scene)
    assert scene.sign().is_signed


@pytest.mark.parametrize("fields", CONDITIONS.values(), ids=CONDITIONS)
def test_implausible_conditions_are_told_on_every_step(bench, scene, fields):
    Inspection.objects.filter(pk=scene.inspection.pk).update(**fields)
    scene.inspection.refresh_from_db()
    assert "Accepted:" in error_of(scene)
    open_all(bench, scene)
    refuse_signing(bench, scene)


@pytest.mark.parametrize("fields", [{"upper": 1e300}, {"lower": -1e308}, {"unit": "furlong"}, {"unit": "L/min"}])
def test_an_implausible_limit_is_told_and_judges_nothing(bench, scene, fields):
    set_limit_override(
        test_code="supply-failure", result_key="trip_pressure", reason="Local rule", source="A manual, page 3",
        from_date=NOON.date(), by=None,
        at=NOON, site=scene.machine.site, lower=1, upper=2, unit="psi",
    )  # fmt: skip
    LimitOverride.objects.update(**fields)
    assert error_of(scene)
    open_all(bench, scene)
    refuse_signing(bench, scene)


@pytest.mark.parametrize("rated", [[1e308, "psi"], [float(10**300), "kPa"], [1, "furlong"]])
def test_an_implausible_rated_value_is_told(bench, scene, rated):
    part = make_component(scene.machine, gas="nitrous-oxide", rated={"output_pressure": rated})
    assert error_of(scene)
    for page in list(pages(scene))[3:]:
        assert bench.get(page).status_code == 200
    assert part.label in error_of(scene)


def test_the_live_answers_of_page_and_program_are_messages_too(bench, scene):
    InstrumentScale.objects.filter(instrument=scene.gauge, dimension="pressure").update(resolution=1e308)
    data = {"slot": "full_pressure", "full_pressure": "51", "full_pressure:unit": "psi",
            "full_pressure:instrument": scene.gauge.pk}  # fmt: skip
    assert bench.post(scene.url("reading_enter"), data, headers={"HX-Request": "true"}).status_code == 200
    answer = evaluation_answer(scene.step(), Evaluator(scene.inspection).evaluate(scene.step()))
    assert scene.gauge.code in str(EvaluationOut.model_validate(answer).model_dump_json())
