"""Limits that were looked at and left as proposed: listed, counted, never confirmed by it."""

import pytest
from django.urls import reverse

from inspections.actions import leave_limits_as_proposed
from inspections.at_bench.limits_looked_at import LookedAt, looked_at_of_sites, not_looked_at
from inspections.errors import Refused
from inspections.models import LimitLeft
from tests.factories import NOON, confirm_first_limit, load_all_procedures, make_person, make_site

REASON = "Committee 4 decides in May"


@pytest.fixture
def site(db):
    load_all_procedures()
    return make_site()


@pytest.fixture
def planner(site):
    return make_person("planner")


def leave(site, limits, by, reason=REASON):
    return leave_limits_as_proposed(site, limits, reason=reason, by=by, at=NOON)


def test_a_limit_is_left_once_with_a_reason(site, planner):
    first, second, *_ = not_looked_at(site)
    with pytest.raises(Refused, match="reason"):
        leave(site, [first], planner, reason=" ")
    with pytest.raises(Refused, match="Choose"):
        leave(site, [], planner)
    leave(site, [first], planner)
    with pytest.raises(Refused, match="meanwhile"):
        leave(site, [first, second], planner)
    assert LimitLeft.objects.get().code == first.code


def test_what_is_confirmed_or_left_is_looked_at_of_each_site_alone(site, planner, django_assert_num_queries):
    other = make_site()
    total = len(not_looked_at(site))
    confirm_first_limit(site, by=planner, at=NOON)
    before = len(not_looked_at(site))
    leave(site, not_looked_at(site)[:3], planner)
    with django_assert_num_queries(4):
        found = looked_at_of_sites([site, other])
    assert found == {site.pk: LookedAt(total - before, 3, total), other.pk: LookedAt(0, 0, total)}


def test_the_page_leaves_those_chosen_and_says_so(client, site, planner):
    client.force_login(planner)
    url, chosen = reverse("inspections:limits_leave", args=[site.pk]), not_looked_at(site)[:2]
    assert chosen[0].limit.title in client.get(url).content.decode()
    assert "Choose the limits" in client.post(url, {"reason": REASON}).content.decode()
    assert client.post(url, {"codes": [one.code for one in chosen], "reason": REASON}).status_code == 302
    page = client.get(reverse("inspections:limits"), {"site": site.pk}).content.decode()
    assert REASON in page and "0 confirmed, 2 left as proposed" in page and "not confirmed" in page


def test_only_who_sets_limits_leaves_them(client, site):
    url = reverse("inspections:limits_leave", args=[site.pk])
    client.force_login(make_person("technician"))
    assert client.post(url, {"reason": REASON}).status_code == 403
    client.force_login(make_person("planner", sites=[make_site()]))
    assert client.get(url).status_code == 404
