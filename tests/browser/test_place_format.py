"""Numbers and days of a site in a real browser."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.models import Site
from inspections.models import Reading
from tests.factories import NOON, make_person
from tests.inspections.scenes import make_scene

AMERICAN = {"decimal_sign": ",", "date_format": "MM/DD/YYYY", "preferred_units": {"pressure": "kPa"}}


@pytest.fixture
def scene(tmp_path, transactional_db):
    scene = make_scene(tmp_path, at=NOON)
    Site.objects.update(**AMERICAN)
    return scene


def test_a_comma_is_kept_and_shown_again_in_the_unit_of_the_site(browser_page, log_in, scene):
    log_in(scene.technician)
    browser_page.goto(scene.step_url)
    field = browser_page.get_by_label("Oxygen pressure at the start", exact=True)
    field.fill("344,70")
    field.press("Enter")
    expect(browser_page.locator("#kept-full_pressure")).to_have_attribute("data-state", "kept")
    assert str(Reading.objects.get()) == "344.70 kPa"
    browser_page.reload()
    expect(field).to_have_value("344,70")


def test_the_day_beside_a_date_field_follows_what_is_typed(browser_page, log_in, scene):
    log_in(make_person("planner"))
    browser_page.goto(reverse("inspections:plan", args=[scene.machine.pk]))
    field = browser_page.locator("input[type=date]").first
    field.fill("2026-12-24")
    expect(browser_page.locator("[data-day-words]").first).to_have_text("12/24/2026")
    field.fill("")
    expect(browser_page.locator("[data-day-words]").first).to_have_text("")
