"""Every value that an address reads from its query is accepted or refused with a sentence, at every page and list."""

import re
from datetime import date
from types import SimpleNamespace

import pytest
from django.http import QueryDict
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from config.groups import GROUPS
from fleet.days import FIRST_DAY, LAST_DAY, read_day
from fleet.models import Site
from fleet.web.query_values import QueryRefused, choice_asked, day_asked, number_asked, page_asked
from tests.factories import make_person
from tests.matrix.addresses import all_addresses
from tests.matrix.scene import make_scene

ODD = ("-1", "99999999999999999999999", "nan", "0001-01-01", "9999-12-31", "a" * 2000, "\x00", "<b>")
SENTENCES = ("is not accepted", "is not a valid date", "there is no page")
FOREIGN = {"next"}  # the target after signing in: checked as an address, not as a value


class Recording(QueryDict):
    """A query that records which names were read."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.names = set()

    def get(self, key, default=None):
        self.names.add(key)
        return super().get(key, default)

    def __getitem__(self, key):
        self.names.add(key)
        return super().__getitem__(key)

    def getlist(self, key, default=None):
        self.names.add(key)
        return super().getlist(key, default)


@pytest.fixture
def pages(db, monkeypatch):
    """Every page of an object or list, with the names that it reads from its query."""
    scene = make_scene()
    person = make_person(*GROUPS, sites=Site.objects.all())
    client = Client(raise_request_exception=False)
    client.force_login(person)
    read = set()
    monkeypatch.setattr("django.core.handlers.wsgi.WSGIRequest.GET", property(lambda request: _recorded(request, read)))
    found = []
    for address in all_addresses():
        if address.is_api or address.name == "logout":
            continue
        read.clear()
        path = reverse(address.name, kwargs=scene.values_of(address))
        if client.get(path).status_code == 200:
            found.append((path, sorted(read - FOREIGN)))
    return SimpleNamespace(client=client, found=found)


def _recorded(request, read):
    query = Recording(request.META.get("QUERY_STRING", ""), encoding=request.encoding)
    query.names = read
    return query


def test_no_value_in_a_query_ends_in_a_fault(pages):
    faults, refused = [], 0
    for path, names in pages.found:
        for name in names:
            for value in ODD:
                response = pages.client.get(path, {name: value})
                if response.status_code not in (200, 302, 400, 404):
                    faults.append((path, name, value, response.status_code))
                elif response.status_code == 400:
                    refused += 1
                    if not any(words in _text(response) for words in SENTENCES):
                        faults.append((path, name, value, "no sentence"))
    assert not faults
    assert refused > 300


def test_each_list_reads_its_page_and_refuses_one_that_cannot_be(pages):
    """Checks that the recording query sees the names that lists read."""
    listed = [path for path, names in pages.found if "page" in names]
    assert len(listed) >= 12
    for path in listed:
        response = pages.client.get(path, {"page": "-1"})
        assert (response.status_code, "page: “-1” is not accepted" in _text(response)) == (400, True), path
        assert "page: there is no page 999" in _text(pages.client.get(path, {"page": "999"})), path


def test_a_day_at_the_end_of_the_calendar_is_refused_wherever_a_day_is_read(pages):
    dated = [(path, name) for path, names in pages.found for name in names if name in ("on", "week")]
    assert len(dated) >= 4
    for path, name in dated:
        for value in ("0001-01-01", "9999-12-31"):
            response = pages.client.get(path, {name: value})
            assert (response.status_code, "1900-01-01 to 2100-12-31" in _text(response)) == (400, True), (path, name)


def _text(response):
    return re.sub(r"\s+", " ", response.content.decode())


def asked(**query):
    encoded = QueryDict(mutable=True)
    encoded.update(query)
    return SimpleNamespace(GET=encoded)


@given(text=st.text(max_size=30) | st.from_regex(r"\A-?[0-9]{1,12}\Z"))
def test_a_number_is_within_its_bounds_or_refused(text):
    try:
        number = number_asked(asked(page=text), "page", 1, high=40)
    except QueryRefused as refused:
        assert "whole number from 1 to 40" in str(refused)
    else:
        assert number in range(1, 41)
        assert not text or int(text) == number


@given(text=st.text(max_size=30) | st.dates().map(str) | st.datetimes().map(str))
def test_a_day_is_the_day_that_was_written_or_refused(text):
    try:
        day = day_asked(asked(on=text), "on", date(2026, 11, 2))
    except QueryRefused as refused:
        assert "year-month-day" in str(refused)
    else:
        assert FIRST_DAY <= day <= LAST_DAY
        assert not text or day.isoformat() == text


@given(day=st.dates(FIRST_DAY, LAST_DAY))
def test_every_day_of_the_accepted_time_can_be_asked_for(day):
    assert read_day(day.isoformat()) == day


@given(text=st.text(max_size=10))
def test_a_choice_is_one_of_the_accepted_or_refused(text):
    try:
        assert choice_asked(asked(view=text), "view", ["all", "due"], "due") == (text or "due")
    except QueryRefused as refused:
        assert "Accepted: all, due." in str(refused)


def test_a_page_behind_the_last_is_refused_and_names_the_last():
    with pytest.raises(QueryRefused, match="there is no page 4; the list has 3 pages"):
        page_asked(asked(page="4"), list(range(25)), 10)
