"""Recording that an inspection did not happen, and the list of what was attempted several times."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inspections.actions import record_attempt
from inspections.models import Finding
from tests.factories import make_area, make_inspection, make_machine, make_person, make_site


def client_of(*groups, **fields):
    client = Client()
    client.force_login(make_person(*groups, **fields))
    return client


@pytest.fixture
def inspection(db):
    return make_inspection(due_on=timezone.localdate())


@pytest.mark.parametrize("group", ["technician", "planner"])
def test_one_press_on_the_page_of_the_inspection_records_an_attempt(inspection, group):
    client, address = client_of(group), reverse("inspections:attempt", args=[inspection.pk])
    assert f'action="{address}"' in client.get(inspection.get_absolute_url()).text
    page = client.post(address, {"kind": "in use"}, follow=True).text
    assert "In use is recorded" in page and "stays open and due" in page
    assert inspection.attempts.get().kind == "in use"


@pytest.mark.parametrize("group", ["auditor", "manager"])
def test_others_see_attempts_and_record_none(inspection, group):
    record_attempt(inspection, kind="in use", reason="List full", by=make_person("technician"), at=timezone.now())
    client = client_of(group)
    assert client.post(reverse("inspections:attempt", args=[inspection.pk]), {"kind": "in use"}).status_code == 403
    page = client.get(inspection.get_absolute_url()).text
    assert "List full" in page and "Could not locate</button>" not in page


def test_a_deferral_shows_in_the_list_of_work_and_needs_its_day(inspection):
    client, address = client_of("planner"), reverse("inspections:attempt", args=[inspection.pk])
    whole = {"kind": "deferred", "reason": "List full", "decided_by": "Head nurse"}
    assert "needs the day" in client.post(address, whole).text
    until = timezone.localdate() + timedelta(days=12)
    client.post(address, whole | {"until": until.isoformat()})
    page = client.get(reverse("inspections:work"), {"view": "due"}).text
    assert "Deferred until" in page and f"{until.day} {until:%b %Y}" in page


def test_another_site_is_not_found(inspection):
    client = client_of("technician", sites=[make_site()])
    assert client.get(reverse("inspections:attempt", args=[inspection.pk])).status_code == 404


def test_the_longest_overdue_machine_is_first_and_the_queries_do_not_grow(db, django_assert_max_num_queries):
    by, area = make_person("technician"), make_area(make_site())
    for days in (50, 90, 70):
        inspection = make_inspection(make_machine(area=area), due_on=timezone.localdate() - timedelta(days=days))
        for back in (1, 2):
            record_attempt(inspection, kind="not located", by=by, at=timezone.now() - timedelta(days=back))
    client = client_of("planner")
    with django_assert_max_num_queries(10):
        table = client.get(reverse("inspections:attempted")).context["table"]
    due = [row.record.waiting_since for row in table.paginated_rows]
    assert len(due) == 3 and due == sorted(due)
    assert Finding.objects.count() == 3
    assert client.get(reverse("inspections:attempted"), {"kind": "in use"}).context["table"].paginator.count == 0
