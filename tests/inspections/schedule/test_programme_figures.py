"""The figures of the programme on hand-counted cases."""

import io
from datetime import date, timedelta
from math import log

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader
from pytest import approx

from fleet.actions import retire_machine
from fleet.models import Machine
from inspections.actions import close_finding, code_finding, report_fault
from inspections.models import Finding, Inspection, Procedure
from inspections.schedule.programme_figures import (
    Period,
    findings_by_code,
    machine_years,
    most_failing_tests,
    programme_figures,
)
from tests.factories import (
    NOON,
    bench_result,
    load_all_procedures,
    make_machine,
    make_person,
    make_signed_inspection,
)

YEAR = Period(date(2026, 1, 1), date(2026, 12, 31))
BEFORE = NOON - timedelta(days=365)


@pytest.fixture
def by(db):
    load_all_procedures()
    return make_person("technician")


def failing(machine, by, at, **coding):
    """A signed inspection with a failed result and its finding, coded if `coding` says how."""
    step = {"results": [bench_result(20.0, decision="fail")]}
    signed = make_signed_inspection(machine, Procedure.objects.get(code="yearly"), by=by, at=at, steps=[step])
    finding = Finding.objects.create(
        machine=signed.machine, origin=Finding.Origin.RESULT, result=signed.steps.get().results.get(),
        severity="other", title="Trip pressure, fail", opened_by=by, opened_at=at,
    )  # fmt: skip
    if coding:
        code_finding(finding, by=by, at=at, **coding)
    return finding


def passing(machine, by, at):
    return make_signed_inspection(machine, Procedure.objects.get(code="yearly"), by=by, at=at)


def figures(machines=None):
    found = programme_figures(Machine.objects.all() if machines is None else machines, YEAR)
    return {figure.name: figure for figure in found}


def test_first_pass_yield_counts_complete_inspections_without_a_failed_result(by):
    for _ in range(3):
        passing(make_machine(), by, NOON)
    failing(make_machine(), by, NOON)
    found = figures()["First-pass yield"]
    assert (found.numerator, found.denominator, found.value) == (3, 4, 75)


def test_machine_years_end_with_the_retirement(by):
    """A whole year, half of one, and none before 2 July: 365 + 181 + 183 days of 365.25."""
    make_machine(in_use_from=date(2014, 1, 1))
    retired = make_machine(in_use_from=date(2014, 1, 1))
    retire_machine(retired, reason="Old", by=by, at=NOON.replace(month=6, day=30))
    make_machine(in_use_from=date(2026, 7, 2))
    assert machine_years(Machine.objects.all(), YEAR) == approx((365 + 181 + 183) / 365.25)


def test_findings_per_machine_year_and_the_time_between_them(by):
    """2 findings of 9 whole years give 0.22 a year and 4.5 years between. Source: HTM ComDoc 1, seen."""
    machines = [make_machine(in_use_from=date(2014, 1, 1)) for _ in range(9)]
    for machine in machines[:2]:
        report_fault(machine, title="Sticks", severity="other", by=by, at=NOON)
    found = figures()
    assert found["Findings"].value == approx(0.22, abs=0.005)
    assert found["Mean time between findings"].value == approx(4.5, abs=0.005)


def test_hours_are_those_that_were_stated(by):
    for minutes in (60, 90, None):
        Inspection.objects.filter(pk=passing(make_machine(), by, NOON).pk).update(minutes=minutes)
    found = figures()["Hours per inspection"]
    assert (found.numerator, found.denominator, found.value) == (2.5, 2, 1.25)


def test_the_rate_of_hidden_failures_counts_what_an_inspection_found(by):
    """One of four gaps of a year with a hidden failure: -ln(3/4) in 365 days; a use error is no hidden failure."""
    codings = ({"code": "drift", "found_how": "inspection"}, {"code": "use-error", "found_how": "inspection"})
    for coding in codings:
        machine = make_machine()
        passing(machine, by, BEFORE)
        failing(machine, by, NOON, **coding)
    for _ in range(2):
        machine = make_machine()
        passing(machine, by, BEFORE)
        passing(machine, by, NOON)
    found = figures()["Hidden failures, Yearly inspection"]
    assert (found.numerator, found.denominator) == (1, approx(4 * 365 / 365.25, abs=0.005))
    assert found.value == approx(-log(3 / 4) * 365.25 / 365)


def test_a_failure_without_a_code_is_said_and_what_it_would_change(by):
    for number in range(4):
        machine = make_machine()
        passing(machine, by, BEFORE)
        (failing if number == 0 else passing)(machine, by, NOON)
    found = figures()["Hidden failures, Yearly inspection"]
    assert found.value == 0 and "1 of these inspections found a failure that is not coded" in found.remark


def test_the_findings_that_were_closed_without_a_code_are_counted(by):
    for coding in ({}, {"code": "wear", "found_how": "inspection"}):
        finding = report_fault(make_machine(), title="Sticks", severity="other", by=by, at=NOON)
        close_finding(finding, note="Mended", by=by, at=NOON, **coding)
    found = figures()["Closed without a code"]
    assert (found.numerator, found.denominator) == (1, 2)
    assert findings_by_code(Machine.objects.all(), YEAR) == [("Not coded", "", 1), ("Wear or ageing", "wear", 1)]


def test_the_tests_that_fail_most_are_first_with_the_steps_that_they_judged(by):
    for _ in range(3):
        passing(make_machine(), by, NOON)
    failing(make_machine(), by, NOON)
    [found] = most_failing_tests(Machine.objects.all(), YEAR)
    assert (found.name, found.numerator, found.denominator) == ("Failed: Oxygen supply-failure protection", 1, 4)


def test_without_machines_the_figures_are_empty(db):
    assert [figure.value for figure in figures().values()] == [None] * 4


def test_the_page_and_its_file_show_the_figures_in_a_fixed_number_of_queries(by, django_assert_max_num_queries):
    for _ in range(3):
        machine = make_machine()
        passing(machine, by, BEFORE)
        failing(machine, by, NOON, code="wear", found_how="inspection")
    client = Client()
    client.force_login(make_person("manager"))
    asked = {"since": "2026-01-01", "until": "2026-12-31"}
    with django_assert_max_num_queries(18):
        page = client.get(reverse("inspections:programme"), asked)
    assert "First-pass yield" in page.text and "Every inspection found one" in page.text
    file = b"".join(client.get(reverse("inspections:programme"), asked | {"export": "csv"}).streaming_content)
    assert b"First-pass yield,0" in file and b"2026-01-01,2026-12-31" in file


def test_the_report_on_paper_holds_the_figures_of_the_page(by):
    machine = make_machine()
    passing(machine, by, BEFORE)
    failing(machine, by, NOON, code="wear", found_how="inspection")
    client = Client()
    client.force_login(make_person("manager"))
    site = machine.site
    answer = client.get(reverse("inspections:programme_pdf"), {"since": "2026-01-01", "site": site.pk})
    assert answer["Content-Type"] == "application/pdf"
    words = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.getvalue())).pages)
    for shown in ("Inspection programme", "First-pass yield", "0 to 98", "Wear or ageing", str(site)):
        assert shown in " ".join(words.split()), shown
