"""Confirming the limits of a site on the limits page, alone or with a second person."""

import pytest
from django.utils.html import escape

from fleet.models import Site
from inspections.at_bench.limits_of_site import limits_of_site
from inspections.bench import TESTS
from inspections.bench.rules import belongs_to
from inspections.models import LimitConfirmation, Proposal
from inspections.proposals import confirm_proposal
from tests.factories import NOON, PASSWORD, load_all_procedures, make_person, make_site

SENT = {"edition": "ISO 7396-1:2016, page 12", "reason": "Equipment committee, May", "password": PASSWORD}


@pytest.fixture
def site(db):
    load_all_procedures()
    return make_site(rule_set="european")


@pytest.fixture
def planner(site, client):
    planner = make_person("planner", sites=[site])
    client.force_login(planner)
    return planner


def url_of(site, rule="iso7396"):
    code = next(one.code for one in limits_of_site(site) if one.limit.rule == rule)
    return f"/library/limits/sites/{site.pk}/{code}/confirm/"


def test_a_planner_confirms_a_limit_with_edition_and_name(client, site, planner):
    page = client.get("/library/limits/").text
    assert ">ISO 7396-1, 400 to 500 kPa<" in page and "not confirmed" in page
    outside = {one.title for test in TESTS.values() for one in test.default_limits if not belongs_to(one, "european")}
    inside = {one.title for test in TESTS.values() for one in test.default_limits if belongs_to(one, "european")}
    assert len(outside - inside) > 5 and [title for title in outside - inside if f">{escape(title)}<" in page] == []
    assert all(belongs_to(one.limit, "european") for one in limits_of_site(site))
    assert client.post(url_of(site), SENT).status_code == 302
    [found] = LimitConfirmation.objects.all()
    assert (found.site, found.rule, found.edition, found.by) == (site, "iso7396", SENT["edition"], planner)
    assert SENT["edition"] in client.get("/library/limits/").text


def test_a_confirmation_is_withdrawn_with_a_reason(client, site, planner):
    client.post(url_of(site), SENT)
    found = LimitConfirmation.objects.get()
    address = f"/library/limits/confirmations/{found.pk}/withdraw/"
    assert client.post(address, {"reason": "", "password": PASSWORD}).status_code == 422
    assert client.post(address, {"reason": "An outdated copy", "password": PASSWORD}).status_code == 302
    found.refresh_from_db()
    assert found.withdrawn_by == planner and not LimitConfirmation.objects.in_force().exists()


@pytest.mark.parametrize("change", [{"edition": "-"}, {"reason": "none"}, {"password": "wrong"}])
def test_without_edition_reason_or_password_nothing_is_confirmed(client, site, planner, change):
    assert client.post(url_of(site), SENT | change).status_code == 422
    assert not LimitConfirmation.objects.exists()


def test_where_limits_ask_for_two_a_second_person_confirms(client, site, planner):
    Site.objects.filter(pk=site.pk).update(two_for_limit=True)
    assert client.post(url_of(site), SENT).status_code == 302
    proposal = Proposal.objects.get()
    assert not LimitConfirmation.objects.exists()
    other = make_person("planner", sites=[site])
    confirm_proposal(proposal, by=other, at=NOON)
    assert LimitConfirmation.objects.get().by == other


def test_other_sites_and_limits_outside_the_set_are_not_found(client, site, planner):
    elsewhere = make_site(rule_set="us")
    assert client.get(url_of(elsewhere, "asa08")).status_code == 404
    here = url_of(elsewhere, "asa08").replace(f"sites/{elsewhere.pk}/", f"sites/{site.pk}/")
    assert client.get(here).status_code == 404


def test_a_technician_may_look_but_not_confirm(client, site):
    client.force_login(make_person("technician", sites=[site]))
    assert "not confirmed" in client.get("/library/limits/").text
    assert client.get(url_of(site)).status_code == 403
