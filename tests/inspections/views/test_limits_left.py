"""Limits that were looked at and left as proposed: listed, counted, never confirmed by it."""

import pytest
from django.urls import reverse

from inspections.actions import leave_limits_as_proposed, take_back_limit_left
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


def test_taken_back_it_counts_as_not_looked_at_and_can_be_left_again(site, planner):
    first = not_looked_at(site)[0]
    leave(site, [first], planner)
    left = LimitLeft.objects.get()
    with pytest.raises(Refused, match="reason"):
        take_back_limit_left(left, reason="", by=planner, at=NOON)
    take_back_limit_left(left, reason="The committee decided", by=planner, at=NOON)
    with pytest.raises(Refused, match="already"):
        take_back_limit_left(left, reason="Once more", by=planner, at=NOON)
    assert first.code in [one.code for one in not_looked_at(site)]
    assert looked_at_of_sites([site])[site.pk].left == 0
    leave(site, [first], planner)
    assert LimitLeft.objects.in_force().count() == 1 and LimitLeft.objects.count() == 2


def test_the_page_takes_one_back(client, site, planner):
    leave(site, not_looked_at(site)[:1], planner)
    client.force_login(planner)
    url = reverse("inspections:limit_left_take_back", args=[LimitLeft.objects.get().pk])
    assert url in client.get(reverse("inspections:limits"), {"site": site.pk}).content.decode()
    assert "Give the reason" in client.post(url, {"reason": "none"}).content.decode()
    assert LimitLeft.objects.in_force().exists()
    assert client.post(url, {"reason": "The committee decided"}).status_code == 302
    assert not LimitLeft.objects.in_force().exists()
    assert "was taken back on" in client.get(url).content.decode()


def test_only_who_sets_limits_at_the_site_takes_one_back(client, site, planner):
    leave(site, not_looked_at(site)[:1], planner)
    url = reverse("inspections:limit_left_take_back", args=[LimitLeft.objects.get().pk])
    client.force_login(make_person("technician"))
    assert client.post(url, {"reason": REASON}).status_code == 403
    client.force_login(make_person("planner", sites=[make_site()]))
    assert client.post(url, {"reason": REASON}).status_code == 404
    assert LimitLeft.objects.in_force().exists()
