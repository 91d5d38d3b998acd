"""A bookmark of an earlier version finds its page, a form sent to it keeps what was typed, and rights are asked."""

import re

import pytest
from django.urls import resolve, reverse

from config.earlier_addresses import EARLIER
from tests.factories import make_person
from tests.matrix.addresses import all_addresses

VALUES = {"pk": 7, "code": "ratio-protection"}


def filled(route):
    return "/" + re.sub(r"<\w+:(\w+)>", lambda found: str(VALUES[found[1]]), route)


@pytest.mark.parametrize("route", EARLIER)
@pytest.mark.parametrize("method", ["get", "post"])
def test_an_earlier_address_leads_to_the_page_with_its_query(client, db, route, method):
    client.force_login(make_person("technician"))
    answer = getattr(client, method)(f"{filled(route)}?on=2026-11-02&next=https://elsewhere.example/")
    path, query = answer["Location"].split("?", 1)
    assert answer.status_code == 308 and query == "on=2026-11-02&next=https://elsewhere.example/"
    found = resolve(path)
    assert found.view_name == EARLIER[route] and path != filled(route)
    assert found.kwargs == {name: VALUES[name] for name in found.kwargs}


def test_the_page_asks_for_the_rights_and_not_the_earlier_address(client, db):
    client.force_login(make_person())
    answer = client.get("/library/protections/", follow=True)
    assert answer.redirect_chain[0] == (reverse("protections"), 308) and answer.status_code == 403


def test_no_page_is_made_with_an_earlier_word_in_its_address():
    words = re.compile(r"protections|parts/|take-apart|maker|duty|outcome")
    assert [address.route for address in all_addresses() if words.search(address.route)] == []
