"""The formats of a site: chosen from lists, tracked, and followed by what belongs to the site."""

import re
from zoneinfo import available_timezones

import pytest
from django.urls import reverse

from fleet.actions import change_site
from fleet.errors import RegisterRefused
from fleet.forms.places import REGIONS
from fleet.models import ChangeEntry, Site
from tests.factories import NOON, make_area, make_component, make_machine, make_person, make_site

FORMATS = {"decimal_sign": ",", "date_format": "MM/DD/YYYY", "paper_size": "Letter"}


@pytest.fixture
def planner(db, client):
    person = make_person("planner")
    client.force_login(person)
    return person


def sent(site, **changed):
    return {"name": site.name, "altitude_m": "0", "time_zone": "America/Denver", **FORMATS, **changed}


def test_a_planner_chooses_formats_and_units_of_a_site_and_the_change_is_tracked(client, planner):
    site = make_site()
    data = sent(site, unit_pressure="psi", unit_temperature="°F")
    assert client.post(reverse("fleet:site_edit", args=[site.pk]), data).status_code == 302
    site.refresh_from_db()
    assert (site.time_zone, site.decimal_sign, site.date_format, site.paper_size) == (
        "America/Denver", ",", "MM/DD/YYYY", "Letter",
    )  # fmt: skip
    assert site.preferred_units == {"pressure": "psi", "temperature": "°F"}
    after = ChangeEntry.objects.get(record="site", record_pk=site.pk).after
    assert after["Preferred units"] == {"pressure": "psi", "temperature": "°F"} and after["Paper size"] == "Letter"


def test_a_form_without_formats_leaves_them_as_they_are(client, planner):
    site = make_site(**FORMATS, preferred_units={"pressure": "bar"})
    data = {"name": site.name, "altitude_m": "5", "time_zone": "UTC"}
    client.post(reverse("fleet:site_edit", args=[site.pk]), data)
    site.refresh_from_db()
    assert (site.altitude_m, site.decimal_sign, site.preferred_units) == (5, ",", {"pressure": "bar"})


def test_the_time_zone_is_chosen_from_the_iana_list_and_a_new_site_starts_with_none(client, planner):
    page = client.get(reverse("fleet:site_add")).text
    chosen_zones = {name for name in available_timezones() if name.partition("/")[0] in REGIONS and "/" in name} | {
        "UTC"
    }
    zones = re.search(r'<select name="time_zone".*?</select>', page, re.DOTALL)[0]
    assert set(re.findall(r'value="([^"]+)"', zones)) == chosen_zones
    assert "selected" not in zones.replace('value="" selected', "")
    page = client.post(reverse("fleet:site_add"), {"code": "n", "name": "N", "altitude_m": "0"}).text
    assert "This field is required" in page and not Site.objects.exists()


@pytest.mark.parametrize("units", [{"pressure": "L/min"}, {"pressure": "stone"}, {"hope": "psi"}])
def test_a_unit_of_something_else_is_refused_by_form_and_action(client, planner, units):
    site = make_site()
    (dimension, unit), *_ = units.items()
    if dimension == "pressure":
        page = client.post(reverse("fleet:site_edit", args=[site.pk]), sent(site, unit_pressure=unit))
        assert page.status_code == 200 and "Select a valid choice" in page.text
    with pytest.raises(RegisterRefused, match="Preferred units"):
        change_site(site, by=planner, at=NOON, preferred_units=units)


def test_the_page_of_a_machine_follows_its_site_and_a_list_over_sites_does_not(client, planner):
    site = make_site(time_zone="Pacific/Auckland", **FORMATS, preferred_units={"pressure": "psi"})
    machine = make_machine(area=make_area(site))
    make_machine()
    make_component(machine, label="Regulator", gas="oxygen", rated={"output_pressure": [412.5, "kPa"]})
    components = client.get(reverse("fleet:machine_components", args=[machine.pk])).text
    assert "Set output pressure 59,83 psi gauge" in components
    page = client.get(machine.get_absolute_url()).text
    assert "01/01/2015" in page and "1 Jan 2015" not in page
    assert "Times on this page: Pacific/Auckland." in page
    assert "Times on this page: UTC." in client.get(reverse("fleet:machines")).text


def test_pages_over_sites_follow_the_only_site_of_a_person(client, db):
    site = make_site(time_zone="Pacific/Auckland")
    make_site()
    client.force_login(make_person("planner", sites=[site]))
    assert "Times on this page: Pacific/Auckland." in client.get(reverse("fleet:machines")).text


def test_one_request_leaves_no_format_to_the_next(client, planner):
    machine = make_machine(area=make_area(make_site(**FORMATS)))
    other = make_machine()
    client.get(machine.get_absolute_url())
    assert "1 Jan 2015" in client.get(other.get_absolute_url()).text
    assert "Times on this page: UTC." in client.get(reverse("fleet:machines")).text


def test_the_paper_of_a_machine_follows_its_site(client, planner):
    machine = make_machine(area=make_area(make_site(**FORMATS)))
    machine.model.circuit = ""
    label = client.get(reverse("inspections:label_pdf", args=[machine.pk]))
    assert label.status_code == 200
