import re
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.models import Instrument
from inspections.actions import clear_reading, void_inspection
from inspections.models import Reading
from tests.factories import NOON, make_instrument, make_person, make_site
from tests.inspections.scenes import enter, make_scene

STOPWATCH = [{"dimension": "time", "unit": "s", "low": 0, "high": 60, "resolution": 1}]


@pytest.fixture
def bench(scene, client):
    """The client of the technician at the bench."""
    client.force_login(scene.technician)
    return client


@pytest.fixture(autouse=True)
def noon(time_machine):
    """The clock of the views stands at NOON, which is within the calibrations of the factories."""
    time_machine.move_to(NOON, tick=False)


def post(client, scene, slot, value, *, code="supply-failure", **settings):
    data = {"slot": slot, slot: value} | {f"{slot}:{key}": text for key, text in settings.items()}
    return client.post(scene.url("reading_enter", code), data, headers={"HX-Request": "true"})


def standing(scene, code="supply-failure"):
    return {r.slot: str(r) for r in Reading.objects.current().filter(step=scene.step(code))}


class TestReading:
    def test_is_in_the_database_when_it_is_acknowledged(self, bench, scene):
        answer = post(bench, scene, "full_pressure", "50", unit="psi", instrument=scene.gauge.pk)
        assert answer.status_code == 200
        assert answer["Bench-Answer"] == "kept"
        assert "saved 12:00" in answer.text
        kept = Reading.objects.get()
        assert (str(kept), kept.zero, kept.instrument, kept.entered_at) == ("50 psi", "gauge", scene.gauge, NOON)

    def test_answer_redraws_the_live_panel_and_the_step_in_the_list(self, bench, scene):
        scene.sweep()
        answer = post(bench, scene, "set_flow", "4.1", unit="L/min")
        assert 'id="live"' in answer.text and "Trip pressure" in answer.text and "<svg" in answer.text
        assert f'id="step-{scene.step().pk}"' in answer.text

    def test_left_empty_takes_the_reading_back(self, bench, scene):
        scene.enter("full_pressure", "50", unit="psi")
        assert post(bench, scene, "full_pressure", " ").status_code == 200
        assert standing(scene) == {}
        assert Reading.objects.count() == 1

    def test_that_is_no_number_is_told_and_what_stood_still_stands(self, bench, scene):
        scene.enter("set_flow", "4.0", unit="L/min")
        answer = post(bench, scene, "set_flow", "4,5,6", unit="L/min")
        assert (answer.status_code, answer["Bench-Answer"]) == (422, "refused")
        assert "“4,5,6” is not a number" in answer.text
        assert "4.0 L/min is still the saved reading" in answer.text
        assert standing(scene) == {("set_flow", 0, ""): "4.0 L/min"}

    def test_in_a_unit_of_another_dimension_is_refused(self, bench, scene):
        answer = post(bench, scene, "set_flow", "4", unit="psi")
        assert answer.status_code == 422
        assert "takes L/min or mL/min; got the unit “psi”" in answer.text

    def test_above_the_range_of_its_instrument_is_kept_and_told_at_its_place(self, bench, scene):
        answer = post(bench, scene, "full_pressure", "500", unit="psi", instrument=scene.gauge.pk)
        assert answer.status_code == 200
        assert 'data-wrong="full_pressure"' in answer.text
        assert "above the range of instrument" in answer.text
        assert standing(scene) == {("full_pressure", 0, ""): "500 psi"}

    def test_that_cannot_be_in_a_table_is_told_at_its_row_as_the_page_counts(self, bench, scene):
        """Row 2 is left empty: the error of row 4 must not be told at row 3."""
        scene.sweep([("45", "4.0")])
        scene.cell(2, "pressure", "30", unit="psi")
        scene.cell(2, "flow", "4", unit="L/min")
        post(bench, scene, "falling.3.flow", "3", unit="L/min")
        answer = post(bench, scene, "falling.3.pressure", "40", unit="psi")
        assert 'data-wrong="falling-3-pressure"' in answer.text
        assert "row 4 turns back from row 3" in answer.text

    def test_in_a_table_takes_the_settings_of_its_column(self, bench, scene):
        data = {
            "slot": "falling.0.pressure",
            "falling.0.pressure": "310",
            "falling.*.pressure:unit": "kPa",
            "falling.*.pressure:zero": "absolute",
            "falling.*.pressure:instrument": scene.gauge.pk,
        }
        bench.post(scene.url("reading_enter"), data)
        kept = Reading.objects.get()
        assert (str(kept), kept.zero, kept.instrument) == ("310 kPa", "absolute", scene.gauge)

    def test_in_a_table_keeps_its_own_settings_when_it_is_corrected(self, bench, scene):
        data = {
            "slot": "falling.0.pressure",
            "falling.0.pressure": "46",
            "falling.0.pressure:unit": "psi",
            "falling.*.pressure:unit": "kPa",
        }
        bench.post(scene.url("reading_enter"), data)
        assert standing(scene) == {("falling", 0, "pressure"): "46 psi"}

    def test_answer_names_the_reading_that_the_page_shows_from_then_on(self, bench, scene):
        answer = post(bench, scene, "full_pressure", "50", unit="psi")
        assert answer["Bench-Seen"] == str(Reading.objects.get().pk)
        assert post(bench, scene, "full_pressure", "", unit="psi", kept=answer["Bench-Seen"])["Bench-Seen"] == ""
        assert "Bench-Seen" not in post(bench, scene, "full_pressure", "x", unit="psi")

    def test_for_a_place_that_has_another_of_ones_own_unseen_is_contested_and_shown(self, bench, scene):
        first = post(bench, scene, "full_pressure", "50", unit="psi", zero="gauge", kept="")
        answer = post(bench, scene, "full_pressure", "4", unit="psi", zero="gauge", kept="")
        assert (answer.status_code, answer["Bench-Answer"]) == (409, "contested")
        assert 'data-shows="50"' in answer.text and "Use 4 psi" in answer.text
        assert standing(scene) == {("full_pressure", 0, ""): "50 psi"}
        again = post(bench, scene, "full_pressure", "50", unit="psi", zero="gauge", kept="")
        assert (again.status_code, again["Bench-Seen"]) == (200, first["Bench-Seen"])

    def test_answer_brings_no_field_into_which_somebody_may_be_typing(self, bench, scene):
        for slot, text in (("falling.7.flow", "1"), ("set_flow", "4"), ("set_flow", "four")):
            answer = post(bench, scene, slot, text, unit="L/min")
            assert not re.search(r"<input(?! type=.hidden)", answer.text)

    @pytest.mark.parametrize(
        ("instrument", "sentence"),
        [
            ({"due_on": NOON.date() - timedelta(days=1)}, "calibration expired on 1 Nov 2026"),
            ({"due_on": None}, "no calibration recorded"),
            ({"result": "outside"}, "out of specification on 31 Jan 2026"),
            ({"is_retired": True}, "not in use at the machine&#x27;s site"),
            (
                {"scales": [{"dimension": "time", "unit": "s", "low": 0, "high": 60, "resolution": 1}]},
                "no scale for pressure",
            ),
        ],
    )
    def test_with_an_instrument_that_cannot_be_used_is_refused(self, bench, scene, instrument, sentence):
        bad = make_instrument(site=scene.machine.site, **instrument)
        answer = post(bench, scene, "full_pressure", "50", unit="psi", instrument=bad.pk)
        assert answer.status_code == 422
        assert sentence in answer.text
        assert standing(scene) == {}

    def test_with_an_instrument_of_another_site_is_refused(self, bench, scene):
        answer = post(bench, scene, "full_pressure", "50", unit="psi", instrument=make_instrument(site=make_site()).pk)
        assert answer.status_code == 422

    @pytest.mark.parametrize(
        "slot", ["", "nothing", "falling.x.flow", "falling.0.", "falling.99.flow", "wanted", "a.b.c.d"]
    )
    def test_for_a_place_that_is_not_there_is_a_bad_request(self, bench, scene, slot):
        assert post(bench, scene, slot, "1", unit="psi").status_code == 400
        assert not Reading.objects.exists()

    def test_after_somebody_signed_is_a_conflict_that_says_so(self, bench, scene):
        scene.complete()
        scene.sign()
        answer = post(bench, scene, "full_pressure", "49", unit="psi")
        assert (answer.status_code, answer["Bench-Answer"]) == (409, "frozen")
        assert "is signed: its readings are locked" in answer.text
        assert 'id="kept-full_pressure"' in answer.text

    def test_after_somebody_voided_is_a_conflict_that_says_so(self, bench, scene):
        void_inspection(scene.inspection, reason="Wrong machine.", by=scene.other, at=NOON, although_in_progress=True)
        assert post(bench, scene, "full_pressure", "49", unit="psi").status_code == 409

    def test_is_not_read_by_get(self, bench, scene):
        assert bench.get(scene.url("reading_enter")).status_code == 405

    @pytest.mark.parametrize("group", ["planner", "manager", "auditor"])
    def test_is_for_technicians(self, client, scene, group):
        client.force_login(make_person(group))
        assert post(client, scene, "full_pressure", "50", unit="psi").status_code == 403
        assert not Reading.objects.exists()

    def test_of_another_site_is_not_found(self, client, scene):
        client.force_login(make_person("technician", sites=[make_site()]))
        assert post(client, scene, "full_pressure", "50", unit="psi").status_code == 404

    def test_without_a_login_says_so_and_has_no_mark_of_the_bench(self, client, scene):
        answer = post(client, scene, "full_pressure", "50", unit="psi")
        assert answer.status_code == 401
        assert "Bench-Answer" not in answer

    def test_costs_the_same_queries_with_few_and_with_many_readings(self, bench, scene, django_assert_num_queries):
        scene.cell(0, "flow", "4.1", unit="L/min", instrument=scene.flowmeter)
        with django_assert_num_queries(READING_QUERIES):
            post(bench, scene, "falling.0.flow", "4", unit="L/min", instrument=scene.flowmeter.pk)
        many_readings(scene)
        with django_assert_num_queries(READING_QUERIES):
            post(bench, scene, "falling.0.flow", "3.9", unit="L/min", instrument=scene.flowmeter.pk)


READING_QUERIES = 31


def many_readings(scene):
    for _ in range(6):
        make_instrument(site=scene.machine.site)
    scene.sweep([(str(60 - row), "4.0") for row in range(30)])
    scene.enter("seen", "yes", code="alarm")


class TestStepPage:
    def test_asks_for_every_reading_that_the_test_declares(self, bench, scene):
        page = bench.get(scene.step_url)
        for name in ("kind", "full_pressure", "set_flow", "falling.0.pressure", "falling.7.flow", "rising.0.flow"):
            assert f'name="{name}"' in page.text
        assert 'name="wanted"' not in bench.get(scene.step("alarm").get_absolute_url()).text

    def test_says_purpose_cautions_instruction_and_source(self, bench, scene):
        page = bench.get(scene.step_url)
        assert "Lower the oxygen pressure in steps." in page.text
        assert "Never on a machine connected to a patient" in page.text
        assert "The alarm sounds." in bench.get(scene.step("alarm").get_absolute_url()).text

    def test_shows_every_acknowledged_reading_again(self, bench, scene):
        scene.sweep()
        page = bench.get(scene.step_url)
        for row, (pressure, _) in enumerate([("45", ""), ("35", ""), ("26", "")]):
            assert f'name="falling.{row}.pressure" value="{pressure}"' in page.text

    def test_shows_last_time_beside_the_fields_as_read(self, bench, scene):
        scene.complete()
        scene.sign()
        scene.again(at=NOON + timedelta(days=300))
        page = bench.get(scene.step_url)
        assert "last inspection <b>50 psi</b>" in page.text
        assert "last 45 psi" in page.text
        assert "Last inspection: 2 Nov 2026" in page.text

    def test_starts_with_the_unit_of_the_inspection_and_the_instrument_used_before(self, bench, scene):
        scene.enter("full_pressure", "345", unit="kPa", instrument=scene.gauge)
        clear_reading(scene.step(), "full_pressure", by=scene.technician, at=NOON)
        page = bench.get(scene.step_url)
        assert '<option value="psi" selected>' in page.text and '<option value="kPa" selected>' not in page.text
        assert f'<option value="{scene.gauge.pk}" selected>' in page.text

    def test_shows_an_instrument_out_of_calibration_and_does_not_offer_it(self, bench, scene):
        old = make_instrument(site=scene.machine.site, due_on=NOON.date() - timedelta(days=1))
        page = bench.get(scene.step_url)
        assert f'<option value="{old.pk}" disabled>{old.code}, calibration expired on 1 Nov 2026</option>' in page.text

    def test_offers_no_instrument_of_another_site(self, bench, scene):
        far = make_instrument(site=make_site())
        assert f'<option value="{far.pk}"' not in bench.get(scene.step_url).text

    def test_begins_with_the_only_instrument_for_what_is_measured_and_with_none_for_what_is_stated(self, bench, scene):
        Instrument.objects.exclude(pk=scene.gauge.pk).update(is_retired=True)
        page = bench.get(scene.step_url).text
        chosen = f'<option value="{scene.gauge.pk}" selected>'
        assert chosen in page.partition('name="full_pressure:instrument"')[2].partition("</select>")[0]
        assert chosen not in page.partition('name="trip_fraction:instrument"')[2].partition("</select>")[0]

    def test_says_at_once_that_a_measured_reading_lacks_its_instrument(self, bench, scene):
        assert "name the instrument" in post(bench, scene, "full_pressure", "50", unit="psi").text
        answer = post(bench, scene, "full_pressure", "50", unit="psi", instrument=scene.gauge.pk)
        assert "name the instrument" not in answer.text

    def test_names_a_gas_in_words(self, bench, scene, tmp_path):
        step = '[[step]]\ncode = "s"\ntitle = "Cut"\ntest = "supply-failure"\neach = "other gas"\n'
        each = make_scene(tmp_path, text=f'code = "each"\ntitle = "Each gas"\n{step}')
        step = each.inspection.steps.get(subject="nitrous-oxide")
        bench.force_login(each.technician)
        assert "Cut: nitrous oxide" in bench.get(step.get_absolute_url()).text

    def test_of_a_signed_inspection_leads_to_its_record(self, bench, scene):
        scene.complete()
        scene.sign()
        assert bench.get(scene.step_url).url == scene.inspection.get_absolute_url()

    def test_of_a_step_that_does_not_apply_is_not_found(self, bench, scene):
        type(scene.step()).objects.filter(code="flush").update(applies=False, absence="Not fitted.")
        assert bench.get(scene.step("flush").get_absolute_url()).status_code == 404

    def test_of_another_site_is_not_found_and_without_permission_forbidden(self, client, scene):
        client.force_login(make_person("technician", sites=[make_site()]))
        assert client.get(scene.step_url).status_code == 404
        client.force_login(make_person("auditor"))
        assert client.get(scene.step_url).status_code == 403

    def test_costs_the_same_queries_with_few_and_with_many_readings(self, bench, scene, django_assert_num_queries):
        scene.enter("full_pressure", "50", unit="psi", instrument=scene.gauge)
        with django_assert_num_queries(PAGE_QUERIES):
            bench.get(scene.step_url)
        many_readings(scene)
        with django_assert_num_queries(PAGE_QUERIES):
            bench.get(scene.step_url)


PAGE_QUERIES = 30  # five of them for the components that can be replaced, and those that were


class TestWholeForm:
    def test_without_scripts_keeps_the_good_readings_and_tells_the_bad_with_their_text(self, bench, scene):
        data = {
            "full_pressure": "50", "full_pressure:unit": "psi",
            "set_flow": "four", "set_flow:unit": "L/min",
            "falling.0.pressure": "45", "falling.*.pressure:unit": "psi",
            "falling.0.flow": "4", "falling.*.flow:unit": "L/min",
            "falling.1.pressure": "", "kind": "shut-off", "then": "next",
        }  # fmt: skip
        page = bench.post(scene.step_url, data)
        assert page.status_code == 422
        assert 'name="set_flow" value="four"' in page.text
        assert "“four” is not a number" in page.text
        assert standing(scene) == {
            ("full_pressure", 0, ""): "50 psi",
            ("falling", 0, "pressure"): "45 psi",
            ("falling", 0, "flow"): "4 L/min",
            ("kind", 0, ""): "shut-off",
        }

    def test_goes_on_to_the_next_step_and_after_the_last_to_signing(self, bench, scene):
        assert bench.post(scene.step_url, {"then": "next"}).url == scene.step("alarm").get_absolute_url()
        last = scene.step("flush").get_absolute_url()
        assert bench.post(last, {"then": "next"}).url == reverse("inspections:sign", args=[scene.inspection.pk])

    def test_laid_out_long_ago_undoes_nothing_newer(self, bench, scene):
        """A page left open on another tablet shows the old value, and an empty place that is filled by now."""
        old = scene.enter("full_pressure", "50", unit="psi")
        enter(scene.step(), "full_pressure", as_read="52", unit="psi", by=scene.other, at=NOON)
        scene.enter("set_flow", "4", unit="L/min")
        data = {
            "full_pressure": "50", "full_pressure:unit": "psi", "full_pressure:zero": "gauge",
            "full_pressure:instrument": "", "full_pressure:kept": old.pk, "set_flow": "", "set_flow:unit": "L/min",
        }  # fmt: skip
        assert bench.post(scene.step_url, data).status_code == 302
        assert standing(scene) == {("full_pressure", 0, ""): "52 psi", ("set_flow", 0, ""): "4 L/min"}

    def test_takes_back_a_reading_that_was_emptied_on_it(self, bench, scene):
        kept = scene.enter("full_pressure", "50", unit="psi")
        bench.post(scene.step_url, {"full_pressure": "", "full_pressure:kept": kept.pk})
        assert standing(scene) == {}

    def test_sends_a_reading_again_whose_instrument_has_run_out_since_without_complaint(
        self, bench, scene, time_machine
    ):
        kept = scene.enter("full_pressure", "50", unit="psi", instrument=scene.gauge)
        time_machine.move_to(NOON + timedelta(days=200), tick=False)
        bench.force_login(scene.technician)
        data = {
            "full_pressure": "50", "full_pressure:unit": "psi", "full_pressure:zero": "gauge",
            "full_pressure:instrument": scene.gauge.pk, "full_pressure:kept": kept.pk,
        }  # fmt: skip
        assert bench.post(scene.step_url, data).status_code == 302

    def test_puts_the_settings_of_a_column_on_the_readings_kept(self, bench, scene):
        scene.cell(0, "pressure", "45", unit="psi")
        scene.cell(1, "pressure", "35", unit="psi", instrument=scene.gauge)
        data = {"falling.*.pressure:unit": "kPa", "falling.*.pressure:instrument": scene.gauge.pk, "apply": "falling"}
        bench.post(scene.step_url, data)
        assert standing(scene) == {("falling", 0, "pressure"): "45 kPa", ("falling", 1, "pressure"): "35 kPa"}
        assert set(Reading.objects.current().values_list("instrument", flat=True)) == {scene.gauge.pk}

    def test_of_an_inspection_signed_meanwhile_leads_to_the_record_with_the_reason(self, bench, scene):
        scene.complete()
        scene.sign()
        page = bench.post(scene.step_url, {"full_pressure": "1"}, follow=True)
        assert "its readings are locked" in page.text


def test_the_page_tells_the_time_of_the_site(bench, scene):
    summer = NOON.replace(month=7)
    scene.enter("full_pressure", "50", unit="psi", at=summer)
    assert "saved 13:00" in bench.get(scene.step_url).text
