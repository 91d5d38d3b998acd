"""The bench and the pages of an inspection at a site with a decimal comma, psi, °F and days as in America."""

import html
import re
from datetime import timedelta

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from fleet.catalogue.dimensions import DIMENSIONS
from fleet.models import Site
from fleet.place_format import PlaceFormat, using
from inspections.bench import Curve, Mark, Series
from inspections.models import Finding, Inspection, Reading
from inspections.result_display import curve_in_units_of_place
from tests.factories import NOON, make_component, make_inspection, make_person
from tests.inspections.scenes import FAILING

UNITS = "|".join(sorted({re.escape(u.symbol) for d in DIMENSIONS.values() for u in d.units}, key=len, reverse=True))
POINT_BEFORE_A_UNIT = re.compile(rf"\d+\.\d+ (?:± \S+ )?(?:{UNITS})(?![A-Za-z])")
AMERICAN = {
    "decimal_sign": ",", "date_format": "MM/DD/YYYY", "paper_size": "Letter",
    "preferred_units": {"pressure": "psi", "temperature": "°F"},
}  # fmt: skip


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON + timedelta(minutes=5), tick=False)


@pytest.fixture
def place(scene):
    Site.objects.filter(pk=scene.machine.site.pk).update(**AMERICAN)
    return scene


@pytest.fixture
def bench(place, client):
    client.force_login(place.technician)
    return client


def post(client, scene, slot, value, **settings):
    data = {"slot": slot, slot: value} | {f"{slot}:{key}": text for key, text in settings.items()}
    return client.post(scene.url("reading_enter"), data, headers={"HX-Request": "true"})


@pytest.mark.parametrize("sign", [",", "."])
@pytest.mark.parametrize(("typed", "stored"), [("3,1", "3.1"), ("3.1", "3.1"), ("3,10", "3.10"), ("0,150", "0.150")])
def test_a_reading_typed_in_either_sign_is_stored_with_every_digit(scene, client, sign, typed, stored):
    Site.objects.filter(pk=scene.machine.site.pk).update(decimal_sign=sign)
    client.force_login(scene.technician)
    assert post(client, scene, "set_flow", typed, unit="L/min").status_code == 200
    assert Reading.objects.get().as_read == stored


def test_a_reading_in_the_sign_of_the_place_may_have_three_decimals(bench, place):
    assert post(bench, place, "set_flow", "1,234", unit="L/min").status_code == 200
    assert Reading.objects.get().as_read == "1.234"


def test_a_reading_with_two_meanings_is_refused_and_both_are_named(bench, place):
    answer = post(bench, place, "set_flow", "1.234", unit="L/min")
    assert answer.status_code == 422 and "can be read as 1,234 or as 1234" in answer.text
    assert not Reading.objects.exists()


def test_a_form_sent_back_as_it_was_laid_out_changes_nothing(bench, place):
    place.enter("set_flow", "4.123", unit="L/min")
    page = bench.get(place.step_url).text
    (field,) = re.findall(r'<input id="f-set_flow"[^>]*>', page)
    assert 'value="4,123"' in field
    kept = Reading.objects.get()
    data = {"set_flow": "4,123", "set_flow:unit": "L/min", "set_flow:kept": str(kept.pk)}
    assert bench.post(place.step_url, data).status_code == 302
    assert list(Reading.objects.values_list("pk", flat=True)) == [kept.pk]


def test_changing_the_settings_of_a_column_keeps_its_readings_whatever_their_decimals(bench, place):
    place.cell(0, "flow", "1.234", unit="L/min")
    data = {"apply": "falling", "falling.*.flow:unit": "mL/min"}
    assert bench.post(place.step_url, data).status_code == 302
    assert str(Reading.objects.current().get()) == "1.234 mL/min"


def test_a_new_field_starts_with_the_unit_of_the_site_and_then_with_that_of_last_time(bench, place):
    Site.objects.filter(pk=place.machine.site.pk).update(preferred_units={"pressure": "kPa"})
    chosen = r'name="full_pressure:unit".*?<option value="([^"]+)" selected'
    assert re.search(chosen, bench.get(place.step_url).text, re.DOTALL)[1] == "kPa"
    place.enter("full_pressure", "3", unit="bar")
    assert re.search(chosen, bench.get(place.step_url).text, re.DOTALL)[1] == "bar"


def test_the_conditions_are_asked_for_in_the_units_of_the_site_and_stored_in_kpa_and_celsius(bench, place):
    inspection = make_inspection(place.machine, place.procedure)
    url = reverse("inspections:open", args=[inspection.pk])
    page = bench.get(url).text
    assert "Room temperature (°F)" in page and 'value="68"' in page and "Ambient pressure (psi absolute)" in page
    assert bench.post(url, {"ambient_kpa_abs": "13,7", "temperature_c": "71,6"}).status_code == 302
    inspection.refresh_from_db()
    assert inspection.temperature_c == 22  # (71.6 - 32) / 1.8
    assert inspection.ambient_kpa_abs == pytest.approx(94.458, abs=0.001)  # 13.7 x 6.894757


def test_conditions_that_cannot_be_are_refused_in_the_units_of_the_site(bench, place):
    inspection = make_inspection(place.machine, place.procedure)
    page = bench.post(reverse("inspections:open", args=[inspection.pk]), {"temperature_c": "20"})
    assert page.status_code == 422 and "Accepted: 41 to 113 °F" in page.text


def words_of(page):
    """The text of a page without addresses, scripts and the values that forms send."""
    return html.unescape(re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", page, flags=re.DOTALL))


def test_no_page_of_the_machine_shows_a_point_in_a_quantity(place, client):
    make_component(place.machine, label="Regulator", gas="oxygen", rated={"output_pressure": [412.5, "kPa"]})
    place.complete(FAILING)
    client.force_login(place.technician)
    addresses = [place.step_url, reverse("inspections:sign", args=[place.inspection.pk])]
    before = {address: words_of(client.get(address).text) for address in addresses}
    place.sign()
    inspection, finding = place.inspection, Finding.objects.first()
    addresses = [
        inspection.get_absolute_url(), place.machine.get_absolute_url(), finding.get_absolute_url(),
        reverse("fleet:machine_circuit", args=[place.machine.pk]),
        reverse("fleet:machine_history", args=[place.machine.pk]),
        reverse("inspections:release", args=[place.machine.pk]),
        place.gauge.get_absolute_url(),
    ]  # fmt: skip
    pages = before | {address: words_of(client.get(address).text) for address in addresses}
    found = {address: POINT_BEFORE_A_UNIT.findall(words) for address, words in pages.items()}
    assert {address: some for address, some in found.items() if some} == {}
    record = pages[inspection.get_absolute_url()]
    assert "13,65 psi absolute" in record and "68,0 °F" in record and "11/02/2026" in record and "4,0 L/min" in record


def test_a_result_is_shown_in_the_unit_of_the_site_and_stored_as_it_was(place, client):
    place.complete(FAILING)
    place.sign()
    Site.objects.filter(pk=place.machine.site.pk).update(preferred_units={"pressure": "kPa"}, decimal_sign=".")
    client.force_login(place.technician)
    words = words_of(client.get(place.inspection.get_absolute_url()).text)
    assert re.search(r"269 ±|268\.9 ±|268\.\d+ ±", words)  # 39 psi x 6.894757 = 268.9 kPa
    assert "50 psi gauge" in words  # a reading stays as it was read
    assert place.step().results.filter(unit="psi").exists()


@given(x=st.floats(-1e3, 1e3), y=st.floats(-1e3, 1e3))
def test_a_curve_in_other_units_has_its_points_where_they_were(x, y):
    curve = Curve(
        "c", "C", "Pressure", "kPa", "Gas", "°C", (Series("s", ((x, y),)),), (Mark("x", x, "m", "result", 2.0),)
    )
    with using(PlaceFormat(units=(("pressure", "bar"), ("temperature", "°F")))):
        shown = curve_in_units_of_place(curve)
    assert (shown.x_unit, shown.y_unit) == ("bar", "°F")
    assert shown.series[0].points[0] == pytest.approx((x / 100, y * 1.8 + 32), abs=1e-9)
    assert (shown.marks[0].value, shown.marks[0].spread) == pytest.approx((x / 100, 0.02), abs=1e-12)


def test_two_who_see_other_formats_decide_on_the_same_grounds(place, client):
    place.complete()
    client.force_login(place.technician)
    url = reverse("inspections:sign", args=[place.inspection.pk])
    (shown,) = re.findall(r'name="shown" value="([^"]+)"', client.get(url).text)
    Site.objects.filter(pk=place.machine.site.pk).update(decimal_sign=".", preferred_units={"pressure": "bar"})
    answer = client.post(url, {"shown": shown, "password": "tapered-tube-7"})
    assert answer.status_code == 302
    assert Inspection.objects.get(pk=place.inspection.pk).stage == "signed"


def test_somebody_elsewhere_reads_the_record_as_its_site_writes_it(place, client):
    place.complete()
    place.sign()
    client.force_login(make_person("auditor"))
    assert "11/02/2026" in client.get(place.inspection.get_absolute_url()).text
