"""The overview of a machine fits two screens, and its first screen leads to the inspection."""

import pytest

from inspections.actions import report_fault
from tests.factories import NOON, load_all_procedures, make_inspection, make_machine, make_model, make_person
from tests.services.browser import TABLET, WIDE


@pytest.fixture
def machine(transactional_db):
    load_all_procedures()
    technician = make_person("technician")
    machine = make_machine(model=make_model(name="Anaesthesia workstation with a name of some length, second series"))
    for number in range(9):
        title = f"Fault {number} whose title says at some length what was heard, seen and done about it in theatre"
        report_fault(machine, title=title, severity="other", by=technician, at=NOON)
    for _ in range(3):
        make_inspection(machine)
    return machine


@pytest.mark.parametrize("size", [WIDE, TABLET], ids=["1280", "768"])
def test_the_overview_fits_two_screens_and_starts_with_the_inspection(browser_page, log_in, machine, size):
    log_in(make_person("technician"))
    browser_page.set_viewport_size(size)
    browser_page.goto(machine.get_absolute_url())
    height = browser_page.evaluate("document.documentElement.scrollHeight")
    assert height <= 2 * size["height"], f"{height} px at {size['width']} px"
    start = browser_page.get_by_role("link", name="Start inspection: Yearly inspection")
    box = start.bounding_box()
    assert box["y"] + box["height"] < size["height"] / 2
    assert browser_page.evaluate("document.documentElement.scrollWidth") <= size["width"]
