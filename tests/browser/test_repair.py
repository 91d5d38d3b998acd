"""A repair at the bench on a tablet: a component replaced, the step tested again as left, signed."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from fleet.models import Component
from inspections.models import Finding, InspectionStep, Replacement
from tests.factories import PASSWORD, make_model
from tests.fleet.circuit_texts import SMALL
from tests.inspections.actions.test_as_left import sweep
from tests.inspections.actions.test_component_replacements import TEXT
from tests.inspections.scenes import FAILING, make_scene
from tests.services.browser import TABLET, intercept


@pytest.fixture
def bench(browser_page, log_in, tmp_path, transactional_db):
    """The page of a step that failed, on a tablet, and its scene."""
    at = timezone.now() - timedelta(hours=1)
    scene = make_scene(tmp_path, text=TEXT, at=at, model=make_model(circuit=SMALL))
    scene.sweep(FAILING, at=at)
    scene.rise(at=at)
    scene.leave_untested("flush", "No flowmeter.", at=at)
    log_in(scene.technician)
    browser_page.set_viewport_size(TABLET)
    browser_page.goto(scene.step_url)
    return browser_page, scene


def test_a_repair_from_the_failure_as_found_to_the_signature(bench):
    page, scene = bench
    part = page.locator("#step-repair")
    part.get_by_text("Component replaced", exact=True).click()
    part.get_by_role("button", name="Enter as replaced").click()
    expect(part).to_contain_text("Choose the component that was replaced.")
    part.get_by_label("Component", exact=True).select_option("cut-off-valve")
    part.get_by_label("Serial of the new one").fill("CV-2")
    part.get_by_role("button", name="Enter as replaced").click()
    expect(part).to_contain_text("Fitted: serial CV-2")
    expect(part).to_contain_text("1 step to test again as left")
    expect(part.get_by_label("What was repaired or adjusted")).to_have_value("After this work: Cut-off valve replaced.")
    for control in part.locator("summary:visible, button:visible").all():
        assert control.bounding_box()["height"] >= 48
    part.get_by_role("button", name="Test again as left").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("as left")
    left = InspectionStep.objects.get(as_left_of=scene.step())
    now = timezone.now()
    sweep(scene, left, at=now)
    scene.enter("seen", "yes", code="alarm", at=now)
    page.goto(f"/inspections/{scene.inspection.pk}/sign/")
    expect(page.locator("main")).to_contain_text("Failed as found")
    expect(page.locator("main")).to_contain_text("1 component replaced")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign").click()
    expect(page.locator("main")).to_contain_text("it passes as left")
    assert Component.objects.get(machine=scene.machine, code="cut-off-valve", removed_on=None).serial == "CV-2"
    assert Finding.objects.get().result.step == scene.step()


def test_an_entry_that_the_server_does_not_answer_says_so_and_is_sent_again_by_hand(bench):
    page, _ = bench
    part = page.locator("#step-repair")
    intercept(page, "**/replaced/", lambda route: route.abort())
    part.get_by_text("Component replaced", exact=True).click()
    part.get_by_label("Component", exact=True).select_option("vaporizer")
    part.get_by_label("Serial of the new one").fill("V-2")
    part.get_by_role("button", name="Enter as replaced").click()
    expect(part).to_contain_text("Not saved")
    page.unroute("**/replaced/")
    part.get_by_role("button", name="Enter as replaced").click()
    expect(part).to_contain_text("Fitted: serial V-2")
    assert Replacement.objects.count() == 1
