"""A person's instruments of the day: chosen on their own page, and by their codes on a bench page."""

from datetime import timedelta

import pytest
from django.urls import reverse

from inspections.models import InstrumentOfDay, Reading
from tests.factories import NOON, make_instrument, make_person, make_site

LOW = [{"dimension": "pressure", "unit": "kPa", "low": 0, "high": 20, "resolution": 0.01, "absolute": 0.02}]
HIGH = [{"dimension": "pressure", "unit": "psi", "low": 0, "high": 100, "resolution": 0.5, "absolute": 1}]
HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON, tick=False)


@pytest.fixture
def bench(client, scene):
    client.force_login(scene.technician)
    return client


@pytest.fixture
def low(scene):
    return make_instrument(site=scene.machine.site, code="LOW-1", scales=LOW)


@pytest.fixture
def high(scene):
    return make_instrument(site=scene.machine.site, code="HIGH-1", scales=HIGH)


def set_url(scene):
    return reverse("inspections:test_set", args=[scene.inspection.pk])


def choose(bench, scene, *instruments):
    return bench.post(set_url(scene), {"instruments": [one.pk for one in instruments], "step": scene.step().pk})


def post(bench, scene, slot, value, **settings):
    data = {"slot": slot, slot: value} | {f"{slot}:{key}": text for key, text in settings.items()}
    return bench.post(scene.url("reading_enter"), data, headers=HTMX)


def select(bench, scene, code):
    return bench.post(scene.url("instrument_select"), {"code": code}, headers=HTMX)


def own_set():
    return set(InstrumentOfDay.objects.values_list("instrument__code", flat=True))


def kept(slot):
    return Reading.objects.current().get(field=slot)


class TestPage:
    def test_chooses_the_instruments_that_the_head_of_every_bench_page_names(self, bench, scene, low, high):
        answer = choose(bench, scene, low, high)
        assert (answer.status_code, answer.url) == (302, scene.step_url)
        for step in (scene.step(), scene.step("flush")):
            assert "<b>HIGH-1, LOW-1</b>" in bench.get(step.get_absolute_url()).text

    def test_replaces_the_set_of_the_day_and_starts_with_the_one_of_last_time(
        self, bench, scene, low, high, time_machine
    ):
        choose(bench, scene, low, high)
        choose(bench, scene, high)
        assert own_set() == {"HIGH-1"}
        time_machine.move_to(NOON + timedelta(days=1), tick=False)
        bench.force_login(scene.technician)
        page = bench.get(set_url(scene)).text
        assert f'value="{high.pk}" id="id_instruments_' in page and page.count(" checked") == 1
        assert "none today" in bench.get(scene.step_url).text

    def test_offers_and_takes_no_instrument_out_of_calibration_or_of_another_site(self, bench, scene):
        old = make_instrument(site=scene.machine.site, code="OLD-1", due_on=NOON.date() - timedelta(days=1))
        far = make_instrument(site=make_site(), code="FAR-1")
        page = bench.get(set_url(scene)).text
        assert "Out of calibration: OLD-1, calibration expired" in page and "FAR-1" not in page
        for bad in (old, far):
            assert choose(bench, scene, bad).status_code == 422
        assert own_set() == set()

    def test_belongs_to_the_person(self, bench, scene, low, client):
        choose(bench, scene, low)
        client.force_login(scene.other)
        assert "none today" in client.get(scene.step_url).text

    def test_is_for_those_who_enter_readings_at_the_site(self, client, scene):
        client.force_login(make_person("auditor"))
        assert client.get(set_url(scene)).status_code == 403
        client.force_login(make_person("technician", sites=[make_site()]))
        assert client.get(set_url(scene)).status_code == 404
        assert select(client, scene, "LOW-1").status_code == 404

    @pytest.mark.parametrize("step", ["", "x", "9" * 30, "٣", "0"])
    def test_goes_back_to_the_bench_from_anywhere_else(self, bench, scene, low, step):
        answer = bench.post(set_url(scene), {"instruments": [low.pk], "step": step})
        assert answer.url == reverse("inspections:bench", args=[scene.inspection.pk])


class TestInstrumentOfReading:
    def test_is_the_one_of_the_set_that_holds_the_value(self, bench, scene, low, high):
        choose(bench, scene, low, high)
        answer = post(bench, scene, "full_pressure", "350", unit="kPa", instrument="", proposed="")
        assert kept("full_pressure").instrument == high and "with HIGH-1" in answer.text
        answer = post(bench, scene, "full_pressure", "15", unit="kPa", instrument=low.pk, proposed=low.pk)
        assert kept("full_pressure").instrument == low and "with LOW-1" in answer.text

    def test_is_exchanged_where_the_proposed_one_does_not_hold_the_value(self, bench, scene, low, high):
        choose(bench, scene, low, high)
        answer = post(bench, scene, "full_pressure", "350", unit="kPa", instrument=low.pk, proposed=low.pk)
        assert kept("full_pressure").instrument == high
        assert f'data-settled-instrument="{high.pk}"' in answer.text

    def test_stays_as_the_person_chose(self, bench, scene, low, high):
        choose(bench, scene, low, high)
        answer = post(bench, scene, "full_pressure", "350", unit="kPa", instrument=low.pk, proposed=high.pk)
        assert kept("full_pressure").instrument == low and "above the range of instrument LOW-1" in answer.text
        post(bench, scene, "full_pressure", "15", unit="kPa", instrument="", proposed=low.pk)
        assert kept("full_pressure").instrument is None

    def test_stays_when_a_reading_that_it_holds_is_corrected(self, bench, scene, low, high):
        choose(bench, scene, low, high)
        first = scene.enter("full_pressure", "15", unit="kPa", instrument=high)
        sent = {"unit": "kPa", "instrument": high.pk, "proposed": high.pk, "kept": first.pk}
        post(bench, scene, "full_pressure", "16", **sent)
        assert kept("full_pressure").instrument == high

    def test_is_none_and_said_why_where_none_of_the_set_holds_the_value(self, bench, scene, low):
        choose(bench, scene, low)
        answer = post(bench, scene, "full_pressure", "350", unit="kPa", instrument=low.pk, proposed=low.pk)
        assert kept("full_pressure").instrument is None
        assert "no instrument of your test set holds 350 kPa: check the unit, or name the instrument" in answer.text

    def test_is_named_in_a_cell_where_it_is_not_the_one_of_its_column(self, bench, scene, low, high):
        choose(bench, scene, low, high)
        answer = post(
            bench, scene, "falling.0.pressure", "350",
            **{"unit": "kPa", "instrument": low.pk, "proposed": low.pk},
        )  # fmt: skip
        assert "kPa, HIGH-1" in answer.text

    def test_is_not_taken_for_what_the_machine_shows(self, bench, scene, low, high):
        choose(bench, scene, low, high)
        post(bench, scene, "set_flow", "4", unit="L/min")
        assert kept("set_flow").instrument is None


class TestProposal:
    def selected(self, page, name):
        menu = page.partition(f'name="{name}:instrument"')[2].partition("</select>")[0]
        return [part.partition("<")[0] for part in menu.split(" selected>")[1:]]

    def test_holds_what_was_read_last_time(self, bench, scene, low, high):
        scene.complete()
        scene.sign()
        scene.again(at=NOON + timedelta(hours=2))
        choose(bench, scene, low, high)
        page = bench.get(scene.step_url).text
        assert self.selected(page, "full_pressure") == ["HIGH-1 Test gauge, my test set"]
        assert self.selected(page, "falling.*.pressure") == ["HIGH-1 Test gauge, my test set"]

    def test_is_none_where_nothing_of_the_set_holds_what_was_read_last_time(self, bench, scene, low):
        scene.complete()
        scene.sign()
        scene.again(at=NOON + timedelta(hours=2))
        choose(bench, scene, low)
        assert "LOW-1" not in "".join(self.selected(bench.get(scene.step_url).text, "full_pressure"))

    def test_without_a_reading_of_last_time_holds_the_limits_of_its_results(self, bench, scene, low, high):
        choose(bench, scene, low, high)
        assert self.selected(bench.get(scene.step_url).text, "falling.*.pressure") == ["HIGH-1 Test gauge, my test set"]


class TestCode:
    def test_in_a_field_takes_the_instrument_and_keeps_the_reading(self, bench, scene, high):
        scene.enter("full_pressure", "50", unit="psi", instrument=scene.gauge)
        answer = post(bench, scene, "full_pressure", " high-1 ", unit="psi", instrument=scene.gauge.pk)
        assert answer.status_code == 200 and answer["Bench-Answer"] == "kept"
        assert own_set() == {"HIGH-1"} and str(kept("full_pressure")) == "50 psi"
        assert 'data-settled="50"' in answer.text and f'data-settled-instrument="{high.pk}"' in answer.text
        assert "instrument HIGH-1" in answer.text and "<b>HIGH-1</b>" in answer.text

    def test_in_a_field_that_it_cannot_read_joins_the_set_only(self, bench, scene, low):
        answer = post(bench, scene, "set_flow", "LOW-1", unit="L/min")
        assert own_set() == {"LOW-1"} and "LOW-1 has no scale for flow" in answer.text
        assert 'data-settled-instrument=""' in answer.text

    def test_elsewhere_joins_the_set_and_is_proposed_where_it_fits(self, bench, scene, high):
        answer = select(bench, scene, "HIGH-1")
        assert answer["Bench-Answer"] == "kept" and own_set() == {"HIGH-1"}
        assert f'data-names="falling.*.pressure" data-proposal="{high.pk}"' in answer.text

    @pytest.mark.parametrize("code", ["NONE-7", "", "<b>", "x" * 400])
    def test_that_is_not_known_is_refused_with_a_sentence(self, bench, scene, code):
        answer = select(bench, scene, code)
        assert answer.status_code == 422 and "No instrument at this site has the code" in answer.text

    def test_that_is_not_known_is_refused_in_a_field_too(self, bench, scene):
        answer = post(bench, scene, "full_pressure", "NONE-7", unit="psi")
        assert answer.status_code == 422
        assert "“NONE-7” is not a number, nor the code of an instrument at this site." in answer.text

    def test_of_an_instrument_out_of_calibration_is_refused(self, bench, scene):
        make_instrument(site=scene.machine.site, code="OLD-1", due_on=NOON.date() - timedelta(days=1))
        for answer in (select(bench, scene, "OLD-1"), post(bench, scene, "full_pressure", "OLD-1", unit="psi")):
            assert answer.status_code == 422 and "calibration expired" in answer.text
        assert 'data-settled=""' in answer.text and own_set() == set()

    def test_of_another_site_is_not_known(self, bench, scene):
        make_instrument(site=make_site(), code="FAR-1")
        assert select(bench, scene, "FAR-1").status_code == 422

    def test_that_could_be_a_reading_is_one(self, bench, scene):
        make_instrument(site=scene.machine.site, code="5L")
        assert post(bench, scene, "set_flow", "5 L/min").status_code == 200
        make_instrument(site=scene.machine.site, code="50psi")
        post(bench, scene, "full_pressure", "50psi")
        assert str(kept("full_pressure")) == "50 psi" and own_set() == set()

    def test_in_the_whole_form_without_scripts_joins_the_set(self, bench, scene, high):
        answer = bench.post(scene.step_url, {"full_pressure": "HIGH-1", "then": "here"})
        assert answer.status_code == 302 and own_set() == {"HIGH-1"}
        assert not Reading.objects.filter(step=scene.step()).exists()
        bench.post(scene.url("instrument_select"), {"code": "HIGH-1"})


def test_a_set_costs_no_query_on_a_bench_page(bench, scene, low, high, django_assert_num_queries):
    choose(bench, scene, low, high)
    bench.get(scene.step_url)
    with django_assert_num_queries(29):
        bench.get(scene.step_url)
