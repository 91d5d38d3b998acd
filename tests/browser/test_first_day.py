"""A department's first day in a real browser, with a small messy register."""

import pytest

from config.groups import GROUPS
from fleet.models import Machine, WaitingRow
from inspections.models import Inspection
from tests.factories import make_person
from tests.first_day_walk import Walk
from tests.messy_register import messy_register

PASSWORD = "fluted-knob-28"


@pytest.mark.usefixtures("transactional_db")
def test_a_small_register_is_in_and_the_first_inspection_open(browser_page, log_in, screenshot):
    person = make_person(*GROUPS, username="first")
    person.set_password(PASSWORD)
    person.save()
    log_in(person)
    browser_page.goto("/")
    screenshot("first-day-home")
    walk = Walk(browser_page, PASSWORD)
    walk.do(messy_register(24))
    assert Machine.objects.count() == 24 and not WaitingRow.objects.exists()
    assert Inspection.objects.in_progress().count() == 1
    assert walk.clicks <= 30 and walk.answers <= 40, walk.log
