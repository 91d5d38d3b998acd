"""Public holidays of a country and region, and codes that are none."""

from datetime import date

import pytest
from django.core.exceptions import ValidationError

from fleet.actions import change_site
from fleet.catalogue.public_holidays import (
    country_choices,
    country_problem,
    holidays_between,
    subdivision_problem,
)
from fleet.errors import RegisterRefused
from tests.factories import NOON, make_person, make_site


def test_holidays_of_a_country_and_of_a_region():
    """Sources, from memory: Public Holidays Act of Kenya, first schedule; Bavarian holidays act, article 1."""
    year = (date(2027, 1, 1), date(2027, 12, 31))
    assert {date(2027, 6, 1), date(2027, 12, 12), date(2027, 12, 25)} <= holidays_between("KE", "", *year).keys()
    epiphany = date(2027, 1, 6)
    assert epiphany in holidays_between("DE", "BY", *year) and epiphany not in holidays_between("DE", "", *year)
    assert set(holidays_between("DE", "", date(2027, 10, 1), date(2027, 10, 31))) == {date(2027, 10, 3)}


def test_unknown_codes_are_named_and_have_no_holidays():
    assert "“XX”" in country_problem("XX") and country_problem("") == ""
    assert "Accepted: BB" in subdivision_problem("DE", "XX") and subdivision_problem("DE", "") == ""
    assert holidays_between("XX", "", date(2027, 1, 1), date(2027, 12, 31)) == {}
    assert ("KE", "Kenya") in country_choices()


def test_a_site_refuses_a_country_or_region_that_is_none(db):
    site = make_site()
    with pytest.raises(RegisterRefused, match="Public holidays"):
        change_site(site, holiday_country="XX", by=make_person("planner"), at=NOON)
    site.holiday_country, site.holiday_subdivision = "DE", "ZZ"
    with pytest.raises(ValidationError, match="no region"):
        site.clean()
