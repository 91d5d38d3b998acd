"""The pages of a machine that inspections adds: results, findings, papers; and what its overview offers first."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.actions import withdraw_machine
from inspections.actions import book_inspection, close_finding, open_inspection, plan_retest, report_fault
from inspections.models import MachineLabel
from tests.factories import (
    NOON,
    TODAY,
    bench_result,
    load_all_procedures,
    make_inspection,
    make_machine,
    make_person,
    make_signed_inspection,
    make_site,
)

TABS = ("results", "findings", "papers")


@pytest.fixture
def technician(db):
    load_all_procedures()
    return make_person("technician")


@pytest.fixture
def machine(technician):
    return make_machine()


def sign(machine, technician, days=0):
    steps = [{"subject": "nitrous-oxide", "results": [bench_result(27)]}]
    return make_signed_inspection(machine, by=technician, at=NOON + timedelta(days=days), steps=steps)


def fault(machine, technician, title, days):
    return report_fault(machine, title=title, severity="other", by=technician, at=NOON + timedelta(days=days))


def tab(client, machine, name):
    return client.get(reverse(f"inspections:machine_{name}", args=[machine.pk]))


def test_open_findings_come_before_closed_ones_and_the_newest_first(client, machine, technician):
    found = [fault(machine, technician, f"Fault {number}", number) for number in range(4)]
    for number in (3, 1):
        close_finding(found[number], note="Tightened", by=technician, at=NOON + timedelta(days=10 + number))
    client.force_login(technician)
    response = tab(client, machine, "findings")
    assert [str(finding) for finding in response.context["page"]] == ["Fault 2", "Fault 0", "Fault 3", "Fault 1"]
    assert "Tightened" in response.content.decode()


def test_the_papers_lead_to_the_record_of_every_signed_inspection(client, machine, technician):
    signed = [sign(machine, technician, days) for days in range(3)]
    make_inspection(machine)
    client.force_login(technician)
    response = tab(client, machine, "papers")
    assert [one.pk for one in response.context["page"]] == [one.pk for one in reversed(signed)]
    assert all(reverse("inspections:record_pdf", args=[one.pk]) in response.content.decode() for one in signed)


def test_the_results_show_the_latest_value(client, machine, technician):
    sign(machine, technician)
    client.force_login(technician)
    assert "27.00" in tab(client, machine, "results").content.decode()


@pytest.mark.parametrize("name", TABS)
def test_a_page_asks_as_many_queries_for_a_long_history(client, machine, technician, name):
    client.force_login(technician)
    counts = []
    for _ in range(2):
        for days in range(4):
            sign(machine, technician, days)
            fault(machine, technician, f"Fault {days}", days)
        tab(client, machine, name)
        with CaptureQueriesContext(connection) as queries:
            assert tab(client, machine, name).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("name", TABS)
def test_a_machine_of_another_site_is_not_shown(client, machine, name):
    client.force_login(make_person("technician", sites=[make_site()]))
    assert tab(client, machine, name).status_code == 404


def test_the_overview_begins_with_the_inspection_to_start_then_to_continue(client, machine, technician):
    planner = make_person("planner")
    late, soon = (make_inspection(machine, due_on=TODAY + timedelta(days=days)) for days in (9, 1))
    client.force_login(technician)
    first = client.get(machine.get_absolute_url()).context["actions"][0]
    assert (first.look, first.url) == ("primary", reverse("inspections:open", args=[soon.pk]))
    book_inspection(late, technician=technician, booked_on=TODAY, by=planner, at=NOON)
    open_inspection(late, by=technician, at=NOON)
    first = client.get(machine.get_absolute_url()).context["actions"][0]
    assert (first.label, first.url) == ("Continue: Yearly inspection", reverse("inspections:bench", args=[late.pk]))
    client.force_login(make_person("auditor"))
    assert all(action.look != "primary" for action in client.get(machine.get_absolute_url()).context["actions"])


@pytest.mark.parametrize("shape", ["{code}", "https://bobbin.example/m/{code}/", "{lower}", "/m/{code}/fault/"])
def test_the_code_of_a_label_leads_to_its_machine(client, machine, technician, shape):
    make_machine()
    code = MachineLabel.objects.create(machine=machine, issued_at=NOON).code
    client.force_login(technician)
    text = shape.format(code=code, lower=code.lower())
    response = client.get(reverse("fleet:machine_find"), {"q": text})
    leads = response.headers["Location"] == machine.get_absolute_url()
    assert leads != text.endswith("/fault/")  # that is no address on a label


def test_a_withdrawn_machine_offers_its_retest_first_and_no_other_inspection(client, machine, technician):
    make_inspection(machine)
    finding = fault(machine, technician, "Leaks", 0)
    withdraw_machine(machine, by=technician, at=NOON, reason="Leaks")
    client.force_login(make_person("technician"))
    first = client.get(machine.get_absolute_url()).context["actions"][0]
    assert first.label == "Release"
    retest = plan_retest(machine, [finding], due_on=TODAY, by=technician, at=NOON)
    first = client.get(machine.get_absolute_url()).context["actions"][0]
    assert first.url == reverse("inspections:open", args=[retest.pk])
