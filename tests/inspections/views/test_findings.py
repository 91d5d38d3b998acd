"""The list of findings, one finding, and what is done about it."""

from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.actions import withdraw_machine
from inspections.actions import close_finding, code_finding, report_fault
from inspections.actions.findings import open_findings_of
from inspections.errors import Refused
from inspections.models import Finding, Inspection, Result
from inspections.proposals import confirm_proposal
from tests.decisions import CODED, send, shown_on
from tests.factories import (
    NOON,
    PASSWORD,
    TODAY,
    bench_result,
    load_all_procedures,
    make_machine,
    make_person,
    make_signed_inspection,
    make_site,
)

URL = "/findings/"


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def technician(client, db):
    load_all_procedures()
    technician = make_person("technician")
    client.force_login(technician)
    return technician


def fault(machine=None, title="Flush sticks", severity="essential", days=0):
    at = NOON - timedelta(days=days)
    return report_fault(machine or make_machine(), title=title, severity=severity, by=None, at=at)


def failed(by):
    inspection = make_signed_inspection(
        by=by, steps=[{"is_essential": True, "results": [bench_result(21, decision="fail")]}]
    )
    results = Result.objects.filter(step__inspection=inspection).select_related("step")
    open_findings_of(inspection, results, by=by, at=NOON)
    return Finding.objects.get(result__step__inspection=inspection)


def rows(client, **query):
    return {row.record for row in client.get(URL, query).context["table"].rows}


def test_findings_are_told_apart_by_what_must_be_done(client, technician):
    open_one, other, done = fault(), fault(severity="other"), fault(severity="other")
    withdrawn = fault()
    close_finding(done, note="Renewed", by=technician, at=NOON)
    withdraw_machine(withdrawn.machine, by=technician, at=NOON, reason="Flush sticks")
    assert rows(client) == {open_one, other, withdrawn}
    assert rows(client, view="withdrawal") == {open_one}
    assert rows(client, view="closed") == {done}


def test_findings_are_narrowed_by_severity_site_age_origin_and_text(client, technician):
    old, new = fault(title="Hose perished", days=120), fault(severity="other")
    of_result = failed(technician)
    assert rows(client, severity="other") == {new}
    assert rows(client, site=old.machine.site.pk) == {old}
    assert rows(client, age=90) == {old}
    assert rows(client, origin="failed outcome") == {of_result}
    assert rows(client, q="perished") == {old}
    refused = client.get(URL, {"age": "x", "severity": "x"})
    assert refused.status_code == 400 and "Older than: “x” is not accepted" in refused.content.decode()


def test_what_awaits_withdrawal_stands_out(client, technician):
    fault()
    assert "In service: decide about withdrawal" in client.get(URL).content.decode()


def test_a_finding_shows_what_failed_against_which_limit_and_links_the_record(client, technician):
    found = failed(technician)
    page = client.get(found.get_absolute_url()).content.decode()
    assert "21.00 ± 0.50 psi" in page and "at least 25 psi" in page and "Test source" in page
    assert found.result.step.inspection.get_absolute_url() in page
    assert f"/machines/{found.machine_id}/withdraw/" in page


def test_a_fault_is_reported(client, technician):
    machine = make_machine()
    data = {"title": "Flush sticks", "description": "Twice today", "severity": "essential"}
    response = client.post(f"/machines/{machine.pk}/fault/", data)
    found = Finding.objects.get()
    assert (found.machine, found.origin, found.opened_by, found.opened_at) == (
        machine,
        "fault report",
        technician,
        NOON,
    )
    assert response.url == found.get_absolute_url()


@pytest.mark.parametrize("wrong", [{"title": " "}, {"severity": "dire"}, {"title": "x" * 201}])
def test_a_report_that_cannot_be_kept_is_told(client, technician, wrong):
    data = {"title": "Flush sticks", "severity": "other", **wrong}
    response = client.post(f"/machines/{make_machine().pk}/fault/", data)
    assert set(response.context["form"].errors) == set(wrong) and not Finding.objects.exists()


def test_a_finding_is_closed_with_note_and_hours(client, technician):
    found = fault(severity="other")
    send(client, f"/findings/{found.pk}/close/", {"note": "Renewed", "work_hours": "1.5", **CODED})
    found.refresh_from_db()
    assert (found.closing_note, float(found.work_hours), found.closed_by) == ("Renewed", 1.5, technician)


def test_a_finding_is_closed_with_its_code_and_without_one_not(client, technician):
    found = fault(severity="other")
    url = f"/findings/{found.pk}/close/"
    assert send(client, url, {"note": "Renewed"}).status_code == 422
    assert "Silent failure" in client.get(url).text and Finding.objects.open().exists()
    send(client, url, {"note": "Renewed", "cause": "Seal hardened", **CODED})
    found.refresh_from_db()
    assert (found.code, found.found_how, found.cause, found.is_open) == ("wear", "daily check", "Seal hardened", False)


def test_an_essential_finding_that_a_second_person_closes_keeps_its_code(client, technician):
    found = fault()
    data = {"note": "Renewed", "password": PASSWORD, "cause": "Seal hardened", **CODED}
    send(client, f"/findings/{found.pk}/close/", data)
    confirm_proposal(found.proposals.get(), by=make_person("technician"), at=NOON)
    found.refresh_from_db()
    assert (found.code, found.found_how, found.cause, found.is_open) == ("wear", "daily check", "Seal hardened", False)


def test_what_was_closed_without_a_code_is_counted_and_coded_later(client, technician):
    found = fault(severity="other")
    close_finding(found, note="Renewed", by=technician, at=NOON)
    assert "1 of the closed findings that match is not coded" in client.get("/findings/?view=closed").text
    client.post(f"/findings/{found.pk}/code/", CODED)
    assert "Wear or ageing" in client.get(found.get_absolute_url()).text
    assert "not coded" not in client.get("/findings/?view=closed").text
    assert (
        rows(client, view="closed", code="wear") == {found} and rows(client, view="closed", code="not-coded") == set()
    )


@pytest.mark.parametrize("wrong", [{"code": "gremlins"}, {"code": ""}, {"found_how": ""}, {"found_how": "dream"}])
def test_an_unknown_code_or_none_is_refused(client, technician, wrong):
    found = fault(severity="other")
    form = client.post(f"/findings/{found.pk}/code/", CODED | wrong).context["form"]
    assert set(form.errors) == set(wrong)
    with pytest.raises(Refused):
        code_finding(found, **CODED | wrong, by=technician, at=NOON)


def test_a_fault_may_bear_its_code_from_the_start(client, technician):
    machine = make_machine()
    data = {"title": "Flush sticks", "severity": "other", **CODED}
    assert "found_how" in client.post(f"/machines/{machine.pk}/fault/", data | {"found_how": ""}).context["form"].errors
    client.post(f"/machines/{machine.pk}/fault/", data)
    assert Finding.objects.get().code == "wear"


def test_closing_again_changes_nothing_and_says_so(client, technician):
    found = fault(severity="other")
    url = f"/findings/{found.pk}/close/"
    shown = shown_on(client.get(url))
    close_finding(found, note="Renewed", by=technician, at=NOON)
    response = client.post(url, {"note": "Again", "shown": shown, **CODED})
    found.refresh_from_db()
    assert found.closing_note == "Renewed" and response.status_code == 409
    assert "Nothing was closed" in response.text and ": Renewed" in response.text


def test_the_finding_that_withdrew_a_machine_is_not_closed_by_hand(client, technician):
    found = fault()
    withdraw_machine(found.machine, by=technician, at=NOON, reason="Flush sticks")
    response = send(client, f"/findings/{found.pk}/close/", {"note": "Renewed", "password": PASSWORD, **CODED})
    assert "closes when a passing retest" in response.content.decode()
    assert Finding.objects.open().exists()


def test_a_retest_is_planned_for_what_is_ticked(client, technician):
    machine = make_machine()
    chosen, _ = fault(machine), fault(machine)
    client.post(f"/machines/{machine.pk}/retest/", {"findings": [chosen.pk], "due_on": TODAY})
    retest = Inspection.objects.get(machine=machine)
    assert list(retest.retests.all()) == [chosen] and retest.procedure.code == "return-to-service"
    assert "A retest is already open" in client.get(f"/machines/{machine.pk}/retest/").content.decode()


def test_findings_of_another_machine_are_not_retested_here(client, technician):
    machine = make_machine()
    fault(machine)
    response = client.post(f"/machines/{machine.pk}/retest/", {"findings": [fault().pk], "due_on": TODAY})
    assert response.context["form"].errors["findings"] and not Inspection.objects.exists()


def test_findings_of_other_sites_are_not_shown(client, technician):
    found = fault()
    client.force_login(make_person("technician", sites=[make_site()]))
    pages = [found.get_absolute_url(), f"/findings/{found.pk}/close/", f"/machines/{found.machine_id}/fault/",
             f"/machines/{found.machine_id}/retest/"]  # fmt: skip
    assert rows(client) == set()
    assert {client.get(page).status_code for page in pages} == {404}
    assert {client.post(page, {"note": "x"}).status_code for page in pages[1:]} == {404}


@pytest.mark.parametrize("view", ["open", "withdrawal", "closed"])
def test_the_list_asks_as_many_queries_for_30_as_for_3(client, technician, view, django_assert_num_queries):
    def add(number):
        for _ in range(number):
            failed(technician)
            close_finding(fault(severity="other"), note="Renewed", by=technician, at=NOON)

    add(3)
    client.get(URL, {"view": view})
    with CaptureQueriesContext(connection) as few:
        client.get(URL, {"view": view})
    add(27)
    with django_assert_num_queries(len(few)):
        client.get(URL, {"view": view})


def test_the_list_is_exported(client, technician):
    fault(title="Hose perished")
    lines = b"".join(client.get(URL, {"export": "csv"}).streaming_content).decode().splitlines()
    assert lines[1].startswith("Hose perished,Essential,")
