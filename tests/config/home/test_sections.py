"""Home: what each group has to do next."""

from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.actions import record_feature_state, withdraw_machine
from fleet.models import Person
from inspections.actions import amend_inspection, book_inspection, open_inspection, report_fault, void_inspection
from inspections.models import Procedure
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_area,
    make_inspection,
    make_instrument,
    make_machine,
    make_person,
    make_signed_inspection,
    make_site,
)


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def yearly(db):
    load_all_procedures()
    return Procedure.objects.get(code="yearly")


def home(client, person):
    """Map the title of each part to its sentences with their figures."""
    client.force_login(person)
    parts = client.get("/").context["parts"]
    return {part.title: {item.text: item.number for item in part.items} for part in parts}


def counted(part, *words):
    """The figure of the one sentence that contains the words."""
    [number] = [number for text, number in part.items() if all(word in text for word in words)]
    return number


def due(yearly, days, **machine):
    return make_inspection(make_machine(**machine), yearly, due_on=TODAY + timedelta(days=days))


def test_a_planner_is_told_what_is_late_unplaced_and_undecided(client, yearly):
    planner, technician = make_person("planner"), make_person("technician")
    due(yearly, -40)
    due(yearly, 5)
    booked = due(yearly, 5, area=make_area(minimum_machines=1))
    book_inspection(booked, technician=technician, booked_on=TODAY, by=planner, at=NOON)
    report_fault(make_machine(), title="Flush sticks", severity="essential", by=planner, at=NOON)
    withdrawn = make_machine(area=make_area(minimum_machines=1))
    withdraw_machine(withdrawn, by=planner, at=NOON, reason="Leaks")
    make_instrument(due_on=TODAY - timedelta(days=1), calibrated_on=TODAY - timedelta(days=300))
    make_instrument(due_on=TODAY + timedelta(days=9), calibrated_on=TODAY - timedelta(days=300))
    part = home(client, planner)["Planner"]
    assert counted(part, "overdue") == 1
    assert counted(part, "not booked") == 1
    assert counted(part, "decide about withdrawal") == 1
    assert counted(part, "withdrawn from use and needs") == 1
    assert counted(part, "fewer machines in service") == 1
    assert counted(part, "because of bookings") == 1
    assert counted(part, "out of calibration", "cannot be used") == 1
    assert counted(part, "is due for calibration") == 1


def test_a_technician_is_told_what_is_on_the_own_bench_and_what_waits(client, yearly):
    technician, other = make_person("technician"), make_person("technician")
    for person, days in ((technician, 0), (technician, 1), (other, 0)):
        booked = due(yearly, 5)
        book_inspection(booked, technician=person, booked_on=TODAY + timedelta(days=days), by=None, at=NOON)
    open_inspection(due(yearly, 5), by=technician, at=NOON)
    for signer in (technician, other):
        make_signed_inspection(procedure=yearly, by=signer)
    part = home(client, technician)["Technician"]
    assert counted(part, "booked for you is due by today") == 1
    assert counted(part, "in progress, not signed") == 1
    assert counted(part, "second signature") == 1  # not the one signed by this person
    assert counted(part, "not started") == 0


def test_a_manager_is_told_where_the_fleet_lacks_a_protection(client, yearly):
    make_machine(features={"ratio-protection": "not fitted"})
    make_machine(features={"ratio-protection": "fitted"})
    part = home(client, make_person("manager"))["Manager"]
    assert counted(part, "Minimum oxygen ratio protection: not fitted") == 1
    assert counted(part, "essential findings are open") == 0


def test_a_manager_is_told_which_machines_the_review_judges_obsolete(client, yearly, django_assert_num_queries):
    """No minimum oxygen ratio device: an absolute criterion. Source: ASA guideline, 2004 (from memory)."""
    make_machine(features={"ratio-protection": "not fitted"}, asset_number="AN-1")
    client.force_login(make_person("manager"))
    assert "/retirement-in-brief/" in client.get("/").content.decode()
    client.get("/retirement-in-brief/")
    with CaptureQueriesContext(connection) as few:
        response = client.get("/retirement-in-brief/")
    number = len(few)
    assert [item.number for item in response.context["items"]] == [1, 0]
    assert "AN-1" in response.content.decode()
    for _ in range(10):
        make_machine(features={"ratio-protection": "not fitted"})
    with django_assert_num_queries(number):
        client.get("/retirement-in-brief/")


def test_an_auditor_is_told_what_was_recorded_of_late(client, yearly):
    technician = make_person("technician")
    signed = make_signed_inspection(procedure=yearly, by=technician)
    make_signed_inspection(procedure=yearly, by=technician, at=NOON - timedelta(days=31))
    amend_inspection(signed, correction="Gauge G-4", reason="Typing slip", by=technician, at=NOON)
    void_inspection(due(yearly, 5), reason="Machine away", by=technician, at=NOON)
    machine = make_machine(features={"ratio-protection": "not fitted"})
    record_feature_state(
        machine, "ratio-protection", "fitted", from_date=TODAY, evidence="retrofit", by=technician, at=NOON
    )
    part = home(client, make_person("auditor"))["Auditor"]
    words = ("was signed", "amendment", "was voided", "of a machine was recorded")
    assert [counted(part, word) for word in words] == [1, 1, 1, 1]
    assert counted(part, "limits were set") == 0


def test_somebody_in_two_groups_gets_both_parts(client, db):
    assert list(home(client, make_person("manager", "planner"))) == ["Planner", "Manager"]


def test_somebody_in_no_group_is_told_whom_to_ask(client, db):
    here, elsewhere = make_site(), make_site()
    person = make_person(sites=[here])
    client.force_login(person)
    page = client.get("/").content.decode()
    assert "You are not in a group yet" in page and "No planner-in-chief has been named yet" in page
    own, other = make_person("planner-in-chief", sites=[here]), make_person("planner-in-chief", sites=[elsewhere])
    page = client.get("/").content.decode()
    assert f"<b>{own}</b>" in page and f"<b>{other}</b>" not in page
    assert "search-text" not in page


def test_a_superuser_in_no_group_can_work(client, db):
    person = make_person()
    Person.objects.filter(pk=person.pk).update(is_superuser=True)
    shown = home(client, Person.objects.get(pk=person.pk))
    assert {"Technician", "Planner", "Manager", "Auditor", "Planner-in-chief"} <= set(shown)
    page = client.get("/").content.decode()
    assert "You are not in a group yet" not in page and "search-text" in page


def test_what_other_sites_do_is_not_told(client, yearly):
    everything(yearly)
    groups = ("planner", "technician", "manager", "auditor")
    parts = home(client, make_person(*groups, sites=[make_site()]))
    assert {number for part in parts.values() for number in part.values()} == {0}


def test_the_page_asks_as_many_queries_for_30_as_for_3(client, yearly, django_assert_num_queries):
    people = [make_person(group) for group in ("planner", "technician", "manager", "auditor")]
    for _ in range(3):
        everything(yearly, people[1])
    few = []
    for person in people:
        home(client, person)
        with CaptureQueriesContext(connection) as asked:
            client.get("/")
        few.append(len(asked))
    for _ in range(10):
        everything(yearly, people[1])
    for person, number in zip(people, few, strict=True):
        client.force_login(person)
        with django_assert_num_queries(number):
            client.get("/")


def everything(yearly, person=None):
    """One of each thing that the home page tells."""
    person = person or make_person("technician")
    other = make_person("technician")
    due(yearly, -40)
    due(yearly, 5)
    booked = due(yearly, 5, area=make_area(minimum_machines=1))
    book_inspection(booked, technician=person, booked_on=TODAY, by=None, at=NOON)
    open_inspection(due(yearly, 5), by=person, at=NOON)
    report_fault(make_machine(), title="Flush sticks", severity="essential", by=person, at=NOON)
    withdraw_machine(make_machine(area=make_area(minimum_machines=1)), by=person, at=NOON, reason="Leaks")
    make_instrument(due_on=TODAY - timedelta(days=1), calibrated_on=TODAY - timedelta(days=300))
    signed = make_signed_inspection(procedure=yearly, by=other)
    amend_inspection(signed, correction="Gauge G-4", reason="Typing slip", by=other, at=NOON)
    void_inspection(due(yearly, 5), reason="Machine away", by=other, at=NOON)
