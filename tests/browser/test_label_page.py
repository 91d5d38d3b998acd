"""The page of a label on a phone: without a login, without cookies, with a thumb."""

import pytest
from playwright.sync_api import expect

from inspections.actions import issue_label
from inspections.models import FaultPhotograph, FaultReport, UserCheck
from tests.factories import NOON, make_area, make_machine, make_person, make_signed_inspection, make_site
from tests.fleet.photographs.pictures import four_corners, stored

PHONE = {"width": 390, "height": 844}
TARGETS = "a, button, input:not([type=hidden]), textarea, label:has(input)"
SMALLEST = 48  # CSS pixels


@pytest.fixture
def label(browser_page):
    machine = make_machine(area=make_area(make_site(has_label_page=True, fault_phone="ext. 4417")))
    make_signed_inspection(machine, by=make_person("technician"), at=NOON)
    browser_page.set_viewport_size(PHONE)
    return issue_label(machine, by=None, at=NOON)


def fits_a_thumb(page):
    """Nothing runs out of the screen, and whatever is pressed is large; a radio button is pressed by its label."""
    page.wait_for_load_state()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    boxes = [(one.inner_text() or one.get_attribute("name"), one.bounding_box()) for one in page.locator(TARGETS).all()
             if one.get_attribute("type") != "radio"]  # fmt: skip
    assert boxes
    assert [words for words, box in boxes if box["height"] < SMALLEST] == []


def send(page):
    page.locator("button[type=submit]").click()


def test_a_fault_and_both_checks_are_sent_from_a_phone_that_takes_no_cookie(browser_page, label):
    page = browser_page
    page.goto(label.get_absolute_url())
    fits_a_thumb(page)
    page.get_by_role("link", name="Record the first-user check").click()
    expect(page.get_by_label("Your name")).to_be_visible()
    fits_a_thumb(page)
    page.get_by_label("Your name").fill("Ana Ruiz")
    page.get_by_label("Done, no problem found").check()
    send(page)
    expect(page.get_by_role("heading", name="Recorded: first-user check after service")).to_be_visible()
    page.goto(label.get_absolute_url())
    page.get_by_role("link", name="Record a daily check").click()
    page.get_by_label("Your name").fill("Ana Ruiz")
    page.get_by_label("Problem found", exact=True).check()
    page.get_by_label("Which problem?").fill("APL valve sticks")
    send(page)
    expect(page.get_by_label("What happened?")).to_have_value("APL valve sticks")
    fits_a_thumb(page)
    page.get_by_label("Where is the machine?").fill("Theatre 2")
    picture = {"name": "fault.jpg", "mimeType": "image/jpeg", "buffer": stored(four_corners())}
    page.get_by_label("Photograph").set_input_files(picture)
    send(page)
    expect(page.get_by_text("Thank you. Your report has the number")).to_be_visible()
    fits_a_thumb(page)
    assert page.context.cookies() == []
    assert UserCheck.objects.count() == 2
    assert FaultPhotograph.objects.get().report == FaultReport.objects.get()
