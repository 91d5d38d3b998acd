"""How days and moments are written in sentences, on pages and on paper: one form, which follows the place."""

import re
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from django.template.defaultfilters import date as django_date
from hypothesis import given
from hypothesis.strategies import dates, sampled_from

from fleet.days import FIRST_DAY, LAST_DAY, day_of_year, long_date, long_moment, moment_in_words
from fleet.place_format import DAY_STYLES, PlaceFormat, using
from fleet.templatetags.place import date as on_a_page
from fleet.web.at_site import day_words
from tests.test_house import ROOT, matches, tracked

NOON = datetime(2026, 7, 1, 12, tzinfo=UTC)
DAYS, STYLES = dates(FIRST_DAY, LAST_DAY), sampled_from(sorted(DAY_STYLES))
BY_HAND = re.compile(r"%-?d %[bB]|\.day\} \{|day_text\([^\n]*current\(\)")


@given(DAYS, STYLES)
def test_a_day_in_a_sentence_is_written_as_on_every_page_of_the_place(day, style):
    with using(PlaceFormat(day=style)):
        assert long_date(day) == on_a_page(day) == day_words(day)
        assert day_of_year(day) == on_a_page(day, "j M")


@given(DAYS)
def test_a_day_without_a_place_has_its_month_in_letters(day):
    assert long_date(day) == django_date(day, "j M Y") == f"{day_of_year(day)} {day.year}"


def test_a_moment_is_written_in_its_own_time_zone():
    in_lisbon = NOON.astimezone(ZoneInfo("Europe/Lisbon"))
    assert (moment_in_words(NOON), long_moment(NOON)) == ("1 Jul 2026 at 12:00", "1 Jul 2026, 12:00 (UTC)")
    assert moment_in_words(in_lisbon) == "1 Jul 2026 at 13:00"
    assert long_moment(in_lisbon) == "1 Jul 2026, 13:00 (WEST)"


def test_no_module_writes_a_day_by_hand():
    sources = {path: path.read_text() for path in tracked("config/*.py", "fleet/*.py", "inspections/*.py")}
    sources.pop(ROOT / "fleet/days.py")
    assert matches(sources, BY_HAND) == []


@pytest.mark.parametrize("written", ['f"{day:%-d %b}"', 'f"{day.day} {day:%b}"', "day_text(day, current().day)"])
def test_a_day_written_by_hand_is_found(written):
    assert matches({ROOT / "fleet/days.py": written}, BY_HAND)
