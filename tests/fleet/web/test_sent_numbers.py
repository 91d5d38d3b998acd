"""What a request holds in place of a key of ours names no row, and ends in no fault."""

import pytest
from django.urls import reverse

from fleet.web.sent_numbers import sent_number
from tests.factories import make_person

HUGE = "9" * 5000  # Python refuses to read it as a number: sys.set_int_max_str_digits


@pytest.mark.parametrize(("text", "number"), [("7", 7), ("0" * 17 + "7", 7), ("9" * 18, 10**18 - 1)])
def test_digits_are_read(text, number):
    assert sent_number(text) == number


@pytest.mark.parametrize("text", [None, "", "-1", "1.0", " 7", "7\n", "٣", "9" * 19, HUGE, "seven"])
def test_anything_else_is_no_key(text):
    assert sent_number(text) == 0


@pytest.mark.parametrize(
    ("name", "sent"),
    [("inspections:levelling", {"number": HUGE}), ("fleet:covers_compute", {"site": HUGE})],
)
def test_a_number_that_is_too_long_is_answered_without_a_fault(client, db, name, sent):
    client.force_login(make_person("planner", "manager"))
    assert client.post(reverse(name), sent).status_code in (302, 404)


def test_an_address_with_a_number_that_is_too_long_opens_the_empty_form(client, db):
    client.force_login(make_person("planner"))
    assert client.get(reverse("inspections:interval_dossier_add"), {"procedure": HUGE}).status_code == 200
