"""Units on the pages of the bench: chosen at the start and at the head, in boxes, texts and results."""

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.models import Site
from inspections.actions import plan_inspection, void_inspection
from inspections.models import Inspection, Reading
from tests.factories import NOON, TODAY, make_person, make_site

HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON, tick=False)


@pytest.fixture
def bench(client, scene):
    client.force_login(scene.technician)
    return client


def prefer(scene, **units):
    Site.objects.filter(pk=scene.machine.site.pk).update(preferred_units=units)


def choose(bench, scene, *, code="supply-failure", **units):
    sent = {f"unit-{key.replace('_', '-')}": symbol for key, symbol in units.items()}
    return bench.post(scene.url("units", code), sent, headers=HTMX)


def selected(page, name):
    menu = page.partition(f'name="{name}"')[2].partition("</select>")[0]
    return [part.partition("<")[0] for part in menu.split(" selected>")[1:]]


def planned(scene):
    return plan_inspection(scene.machine, scene.procedure, due_on=TODAY, by=scene.technician, at=NOON)


class TestStart:
    def start_page(self, bench, scene):
        return bench.get(reverse("inspections:open", args=[planned(scene).pk])).text

    def test_asks_for_each_dimension_with_several_units_that_the_procedure_uses(self, bench, scene):
        page = self.start_page(bench, scene)
        asked = [part.partition('"')[0] for part in page.split('<select name="')[1:]]
        assert asked == ["unit-pressure", "unit-flow", "unit-fraction", "unit-time", "unit-volume"]

    def test_presets_the_units_of_the_site_and_else_leaves_each_test_its_own(self, bench, scene):
        prefer(scene, pressure="kPa")
        page = self.start_page(bench, scene)
        assert selected(page, "unit-pressure") == ["kPa"] and selected(page, "unit-flow") == ["as asked"]

    def test_presets_what_the_person_chose_last_before_the_units_of_the_site(self, bench, scene):
        prefer(scene, pressure="kPa")
        choose(bench, scene, pressure="bar")
        assert selected(self.start_page(bench, scene), "unit-pressure") == ["bar"]

    def test_stores_them_with_the_inspection(self, bench, scene):
        found = planned(scene)
        url = reverse("inspections:open", args=[found.pk])
        assert bench.post(url, {"temperature_c": "20", "unit-pressure": "stone"}).status_code == 422
        bench.post(url, {"temperature_c": "20", "unit-pressure": "bar", "unit-flow": ""})
        assert Inspection.objects.get(pk=found.pk).units == {"pressure": "bar"}

    def test_offers_them_on_the_page_of_the_inspection_too(self, bench, scene):
        assert 'name="unit-pressure"' in bench.get(planned(scene).get_absolute_url()).text


class TestHead:
    def test_names_the_units_of_the_inspection_on_every_step(self, bench, scene):
        choose(bench, scene, pressure="bar")
        page = bench.get(scene.step_url).text
        assert selected(page, "unit-pressure") == ["bar"]
        assert "<summary>Other units bar" in bench.get(scene.step("flush").get_absolute_url()).text

    def test_changes_them_with_one_press_and_answers_with_what_that_changes(self, bench, scene):
        scene.complete()
        scene.sign()
        scene.again(at=NOON + timedelta(minutes=1))
        answer = choose(bench, scene, pressure="kPa")
        assert (answer.status_code, answer["Bench-Answer"]) == (200, "kept")
        assert selected(answer.text, "unit-pressure") == ["kPa"]
        assert 'id="last-full_pressure" hx-swap-oob="true"' in answer.text
        assert "<b>345 kPa</b>" in answer.text and "<small>read as 50 psi</small>" in answer.text

    def test_shows_the_results_in_them_with_the_limit_in_its_own_beside(self, bench, scene):
        scene.sweep()
        answer = choose(bench, scene, pressure="bar")
        live = answer.text.partition('id="live"')[2]
        assert "1.724 <small>± 0.067 bar</small>" in live and "psi)" in live

    @pytest.mark.parametrize("symbol", ["L/min", "stone", "<b>"])
    def test_refuses_what_is_no_unit_of_the_dimension(self, bench, scene, symbol):
        answer = choose(bench, scene, pressure=symbol)
        assert (answer.status_code, answer["Bench-Answer"]) == (422, "refused")
        assert Inspection.objects.get(pk=scene.inspection.pk).units == {}

    def test_of_an_inspection_that_was_voided_meanwhile_says_so(self, bench, scene):
        void_inspection(scene.inspection, reason="Twice", by=scene.technician, at=NOON, although_in_progress=True)
        answer = choose(bench, scene, pressure="bar")
        assert (answer.status_code, answer["Bench-Answer"]) == (409, "frozen")
        assert "its readings are locked" in answer.text

    def test_works_without_scripts(self, bench, scene):
        answer = bench.post(scene.url("units"), {"unit-pressure": "bar"})
        assert (answer.status_code, answer.url) == (302, scene.step_url)
        bench.post(scene.url("units"), {"unit-pressure": "stone"})
        assert Inspection.objects.get(pk=scene.inspection.pk).units == {"pressure": "bar"}

    def test_is_for_those_who_enter_readings_at_the_site(self, client, scene):
        client.force_login(make_person("auditor"))
        assert choose(client, scene, pressure="bar").status_code == 403
        client.force_login(make_person("technician", sites=[make_site()]))
        assert choose(client, scene, pressure="bar").status_code == 404


class TestBox:
    def test_has_the_unit_of_the_inspection_whatever_was_read_last_or_typed_here(self, bench, scene):
        scene.complete()
        scene.sign()
        scene.again(at=NOON + timedelta(minutes=1))
        choose(bench, scene, pressure="bar")
        scene.cell(0, "pressure", "310", unit="kPa", instrument=scene.gauge)
        page = bench.get(scene.step_url).text
        assert selected(page, "falling.*.pressure:unit") == ["bar"]
        assert selected(page, "full_pressure:unit") == ["bar"]
        assert 'name="falling.0.pressure:unit" value="kPa"' in page

    def test_without_a_choice_has_the_unit_of_the_site_else_the_one_that_the_test_declares(self, bench, scene):
        assert selected(bench.get(scene.step_url).text, "full_pressure:unit") == ["psi"]
        prefer(scene, pressure="kPa")
        assert selected(bench.get(scene.step_url).text, "full_pressure:unit") == ["kPa"]

    def test_takes_a_number_with_its_unit_for_that_reading_only(self, bench, scene):
        data = {"slot": "full_pressure", "full_pressure": "3,1 bar", "full_pressure:unit": "psi"}
        answer = bench.post(scene.url("reading_enter"), data, headers=HTMX)
        kept = Reading.objects.current().get(field="full_pressure")
        assert (kept.as_read, kept.unit, kept.zero) == ("3.1", "bar", "gauge")
        assert 'data-settled="3.1" data-settled-unit="bar"' in answer.text
        assert selected(bench.get(scene.step_url).text, "falling.*.pressure:unit") == ["psi"]

    def test_takes_an_absolute_pressure(self, bench, scene):
        data = {"slot": "full_pressure", "full_pressure": "450 kPa abs", "full_pressure:unit": "psi"}
        bench.post(scene.url("reading_enter"), data, headers=HTMX)
        kept = Reading.objects.current().get(field="full_pressure")
        assert (str(kept), kept.zero) == ("450 kPa", "absolute")

    @pytest.mark.parametrize(
        ("typed", "sentence"),
        [
            ("45 L/min", "“L/min” is a unit of flow. Accepted: psi or kPa or"),
            ("45 stone", "“stone” is no unit that is known here. Accepted: psi or kPa or"),
            ("1,234 psi", "can be read as 1.234 or as 1234"),
        ],
    )
    def test_refuses_a_unit_that_it_does_not_take_and_says_what_it_takes(self, bench, scene, typed, sentence):
        data = {"slot": "full_pressure", "full_pressure": typed, "full_pressure:unit": "psi"}
        answer = bench.post(scene.url("reading_enter"), data, headers=HTMX)
        assert answer.status_code == 422 and sentence in answer.text
        assert not Reading.objects.current().filter(field="full_pressure").exists()


def test_a_record_shows_the_units_chosen_and_readings_as_they_were_read(bench, scene):
    choose(bench, scene, pressure="bar")
    scene.complete()
    page = bench.get(scene.sign().get_absolute_url()).text
    assert "<dt>Units</dt><dd>pressure in bar</dd>" in page
    assert "45 psi gauge" in page and 'result-value">1.724 ' in page and "± 0.067 bar" in page
