from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models import Calibration, Instrument
from tests.factories import make_instrument, make_person, make_site

LIST = reverse("fleet:instruments")


def today():
    return timezone.localdate()


@pytest.fixture
def planner(client, db):
    person = make_person("planner")
    client.force_login(person)
    return person


def due_in(days, **fields):
    return make_instrument(due_on=today() + timedelta(days=days), calibrated_on=today() - timedelta(days=300), **fields)


def listed(client, **query):
    return [row.record.code for row in client.get(LIST, query).context["table"].page.object_list]


def test_the_list_tells_what_is_in_calibration_due_soon_or_out(client, planner):
    due_in(31, code="G-ok")
    due_in(30, code="G-soon")
    due_in(0, code="G-today")
    due_in(-1, code="G-late")
    due_in(100, code="G-bad", result="outside")
    make_instrument(due_on=None, code="G-never")
    assert listed(client, calibration="ok") == ["G-ok"]
    assert sorted(listed(client, calibration="soon")) == ["G-soon", "G-today"]
    assert sorted(listed(client, calibration="out")) == ["G-bad", "G-late", "G-never"]


def test_what_is_out_stands_first(client, planner):
    due_in(50, code="G-later")
    make_instrument(due_on=None, code="G-never")
    due_in(-3, code="G-late")
    assert listed(client) == ["G-never", "G-late", "G-later"]
    assert listed(client, sort="-due_on") == ["G-later", "G-late", "G-never"]


def test_retired_and_other_sites_instruments_are_not_listed(client, db):
    site = make_site()
    make_instrument(code="G-mine", site=site)
    make_instrument(code="G-other")
    make_instrument(code="G-retired", site=site, is_retired=True)
    client.force_login(make_person("technician", sites=[site]))
    assert listed(client) == ["G-mine"]
    assert listed(client, q="nothing") == []


def test_the_list_asks_the_same_number_of_queries_for_many(client, planner, django_assert_num_queries):
    for count in (3, 27):
        for _ in range(count):
            due_in(20)
        client.get(LIST)
        with django_assert_num_queries(8):
            client.get(LIST)


def test_the_page_shows_scales_and_calibrations_and_warns_when_out(client, planner):
    instrument = due_in(-1, code="G-1")
    page = client.get(instrument.get_absolute_url()).content.decode()
    for told in ("Do not use", "0.5 % of reading", "coverage factor 2", instrument.calibrations.get().certificate):
        assert told in page


SCALE = {
    "dimension": "pressure", "unit": "kPa", "low": "0", "high": "1000", "resolution": "0.5",
    "of_reading_percent": "0.5", "of_span_percent": "0", "absolute": "0", "coverage_factor": "2",
}  # fmt: skip
UNTOUCHED = {"unit": "kPa", "of_reading_percent": "0", "of_span_percent": "0", "absolute": "0", "coverage_factor": "2"}


def form_data(site, **scale):
    data = {"code": "G-14", "name": "Gauge", "serial": "", "site": site.pk}
    data |= {"scales-TOTAL_FORMS": "3", "scales-INITIAL_FORMS": "0"}
    for number, fields in enumerate(({**SCALE, **scale}, UNTOUCHED, UNTOUCHED)):
        data |= {f"scales-{number}-{name}": value for name, value in fields.items()}
    return data


def test_an_instrument_is_entered_with_its_scales(client, planner):
    response = client.post(reverse("fleet:instrument_add"), form_data(make_site()))
    instrument = Instrument.objects.get()
    assert response.headers["Location"] == reverse("fleet:calibration_add", args=[instrument.pk])
    assert [str(scale) for scale in instrument.scales.all()] == ["pressure 0 to 1000 kPa"]


@pytest.mark.parametrize(
    ("scale", "told"),
    [
        ({"unit": "L/min"}, "does not measure pressure"),
        ({"high": "0"}, "is not above 0"),
        ({"resolution": "0"}, "0 is not more than 0"),
        ({"absolute": "-1"}, "-1 is negative. Accepted: 0 or more"),
        (dict.fromkeys(SCALE, "") | UNTOUCHED | {"low": "", "high": ""}, "at least one scale"),
    ],
)
def test_a_scale_that_cannot_be_is_told_and_nothing_is_kept(client, planner, scale, told):
    response = client.post(reverse("fleet:instrument_add"), form_data(make_site(), **scale))
    assert told in response.content.decode()
    assert not Instrument.objects.exists()


def test_an_instrument_code_is_given_once(client, planner):
    make_instrument(code="G-14")
    assert "already exists" in client.post(reverse("fleet:instrument_add"), form_data(make_site())).content.decode()


def calibration(**changed):
    data = {"calibrated_on": "2026-01-10", "due_on": "2027-01-10", "result": "within", "certificate": "K 9"}
    return data | {"laboratory": "", "note": ""} | changed


def test_a_calibration_is_recorded_and_the_earlier_one_stays(client, planner):
    instrument = make_instrument()
    url = reverse("fleet:calibration_add", args=[instrument.pk])
    assert client.post(url, calibration()).headers["Location"] == instrument.get_absolute_url()
    assert Calibration.objects.filter(instrument=instrument).count() == 2


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"due_on": "2026-01-10"}, "is not after the calibration"),
        ({"calibrated_on": "2090-01-01", "due_on": "2091-01-01"}, "in the future"),
        ({"certificate": "c-old"}, "already recorded"),
        ({"certificate": ""}, "required"),
        ({"result": "fine"}, "Select a valid choice"),
    ],
)
def test_a_calibration_that_cannot_be_is_told(client, planner, changed, told):
    instrument = make_instrument(due_on=None)
    Calibration.objects.create(
        instrument=instrument, calibrated_on="2025-01-10", due_on="2026-01-10", certificate="C-OLD"
    )
    url = reverse("fleet:calibration_add", args=[instrument.pk])
    assert told in client.post(url, calibration(**changed)).content.decode()
    assert Calibration.objects.count() == 1


def test_instruments_are_guarded(client, db):
    instrument = make_instrument()
    add, calibrate = reverse("fleet:instrument_add"), reverse("fleet:calibration_add", args=[instrument.pk])
    for group in ("technician", "manager", "auditor"):
        client.force_login(make_person(group))
        assert [client.post(url, {}).status_code for url in (add, calibrate)] == [403, 403]
    client.force_login(make_person("planner", sites=[make_site()]))
    assert client.post(calibrate, {}).status_code == 404
    assert client.get(instrument.get_absolute_url()).status_code == 404
    client.force_login(make_person("planner"))
    assert [client.put(url).status_code for url in (add, calibrate)] == [405, 405]
    client.force_login(make_person())
    assert client.get(LIST).status_code == 403
