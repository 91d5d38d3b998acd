"""The page that leads a withdrawn machine back to service."""

from datetime import timedelta

import pytest
import time_machine

from fleet.actions import withdraw_machine
from inspections.actions import report_fault
from inspections.models import Finding, Procedure
from tests.decisions import decision, send, shown_on
from tests.factories import (
    NOON,
    bench_result,
    load_all_procedures,
    make_machine,
    make_person,
    make_signed_inspection,
    make_site,
)

LATER = NOON + timedelta(hours=1)
BUTTON = "to service</button>"


@pytest.fixture(autouse=True)
def an_hour_later():
    with time_machine.travel(LATER + timedelta(hours=1), tick=False):
        yield


@pytest.fixture
def technician(db):
    load_all_procedures()
    return make_person("technician")


@pytest.fixture
def machine(technician):
    machine = make_machine()
    report_fault(machine, title="Flush sticks", severity="essential", by=technician, at=NOON)
    withdraw_machine(machine, by=technician, at=NOON, reason="Flush sticks")
    return machine


def retest(machine, by, **result):
    procedure = Procedure.objects.get(code="return-to-service")
    signed = make_signed_inspection(
        machine, procedure, by=by, at=LATER, steps=[{"results": [bench_result(**result)]}]
    )
    signed.retests.set(Finding.objects.filter(machine=machine))
    return signed


def page(client, person, machine):
    client.force_login(person)
    return client.get(f"/machines/{machine.pk}/release/").content.decode()


def release(client, person, machine, retest):
    client.force_login(person)
    response = send(client, f"/machines/{machine.pk}/release/", decision(), retest=retest, follow=True)
    machine.refresh_from_db()
    return response


def test_without_a_retest_there_is_no_button(client, technician, machine):
    shown = page(client, technician, machine)
    assert "cannot be released yet" in shown and BUTTON not in shown


def test_a_retest_that_does_not_allow_it_says_why_and_has_no_button(client, technician, machine):
    retest(machine, technician, decision="fail", value=21)
    shown = page(client, technician, machine)
    assert "trip pressure is a fail" in shown and BUTTON not in shown


def test_a_valid_retest_has_the_button_and_who_did_not_sign_it_returns_the_machine(client, technician, machine):
    passed, other = retest(machine, technician), make_person("technician")
    assert BUTTON in page(client, other, machine)
    release(client, other, machine, passed)
    assert machine.status == "in service" and not Finding.objects.open().exists()
    assert machine.status_changes.first().by == other


@pytest.mark.parametrize("group", ["planner", "manager", "auditor"])
def test_who_may_not_release_sees_the_state_but_no_button(client, technician, machine, group):
    passed, person = retest(machine, technician), make_person(group)
    shown = page(client, person, machine)
    assert "allows a release" in shown and BUTTON not in shown
    assert release(client, person, machine, passed).status_code == 403 and machine.status == "withdrawn"


def test_a_posted_retest_that_does_not_allow_it_is_refused_in_words(client, technician, machine):
    failed = retest(machine, technician, decision="fail", value=21)
    response = release(client, technician, machine, failed)
    assert "trip pressure is a fail" in response.text
    assert machine.status == "withdrawn"


@pytest.mark.parametrize("text", ["", "x", "0"])
def test_a_release_that_names_no_retest_is_not_found(client, technician, machine, text):
    client.force_login(technician)
    assert client.post(f"/machines/{machine.pk}/release/", {"retest": text}).status_code == 404


def test_a_second_release_is_refused_in_words(client, technician, machine):
    passed, other = retest(machine, technician), make_person("technician")
    client.force_login(other)
    url = f"/machines/{machine.pk}/release/"
    shown = shown_on(client.get(url), retest=passed)
    for _ in range(2):
        response = client.post(url, {"retest": passed.pk, "shown": shown, **decision()}, follow=True)
    assert "is in service" in response.text and machine.status_changes.filter(status="in service").count() == 2


def test_a_machine_of_another_site_is_not_found(client, technician, machine):
    passed, elsewhere = retest(machine, technician), make_person("technician", sites=[make_site()])
    assert release(client, elsewhere, machine, passed).status_code == 404 and machine.status == "withdrawn"


def test_a_machine_in_service_has_nothing_to_release(client, technician):
    assert "Only a machine withdrawn from use can be released" in page(client, technician, make_machine())
