"""Home names the machines that should be back."""

from datetime import timedelta

import pytest
from django.urls import reverse

from config.home.away_machines import away_overdue_item
from tests.factories import TODAY, make_away, make_machine, make_person, make_site


@pytest.mark.django_db
def test_home_names_the_machines_that_should_be_back():
    machine = make_machine(asset_number="A-1")
    make_away(machine, from_date=TODAY - timedelta(days=9), expected_on=TODAY - timedelta(days=2))
    make_away(make_machine(), expected_on=TODAY)
    item = away_overdue_item(make_person("planner"), TODAY)
    assert (item.number, item.is_urgent) == (1, True)
    [(words, url)] = item.examples
    assert words.startswith("A-1, County hospital, Ida Roth, expected ") and url == machine.get_absolute_url()
    assert item.url == reverse("fleet:away_machines") + "?view=overdue"
    assert away_overdue_item(make_person("planner", sites=[make_site()]), TODAY).number == 0
