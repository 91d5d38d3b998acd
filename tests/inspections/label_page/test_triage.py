"""Fault reports wait until somebody says what becomes of them: on Home, in the digest, on the machine's page."""

from datetime import timedelta

import pytest
import time_machine
from django.core import mail
from django.urls import reverse

from config.home.sections import planner_part
from fleet.actions import request_job
from fleet.jobs.running import run_waiting_job
from inspections.actions import add_report_to_finding, close_finding, dismiss_report, report_fault, report_from_label
from inspections.errors import Refused
from inspections.models import FaultReport, Finding
from inspections.tables.fault_reports import age_words
from tests.factories import NOON, TODAY, make_person, make_site
from tests.inspections.label_page.conftest import label_of_new_machine
from tests.inspections.label_page.sending import text_of

LIST = reverse("inspections:fault_reports")


def make_report(label, what="Flow drops", at=NOON):
    return report_from_label(label, what=what, where="Theatre 2", who="Ana Ruiz", key=f"{label.pk} {what} {at}", at=at)


@pytest.fixture
def report(label):
    return make_report(label)


def triage(client, report, **data):
    return client.post(report.get_absolute_url(), data)


@pytest.mark.parametrize("group", ["planner", "technician"])
def test_a_report_becomes_a_finding_with_the_severity_of_whoever_triages(client, report, group):
    client.force_login(make_person(group))
    answer = triage(client, report, what="open", title="Flow drops", severity="essential")
    finding = Finding.objects.get()
    assert answer["Location"] == finding.get_absolute_url()
    assert (finding.severity, finding.origin, finding.machine) == ("essential", "fault report", report.machine)
    assert all(words in finding.description for words in (report.number, "Ana Ruiz", "Theatre 2", "Flow drops"))
    report.refresh_from_db()
    assert (report.state, report.finding) == ("finding", finding)
    assert report.number in text_of(client.get(finding.get_absolute_url()))


def test_reports_of_the_same_fault_become_one_finding(client, label):
    first, second, third = (make_report(label, what) for what in ("Flow drops", "Flow falls", "Wheel broken"))
    elsewhere = make_report(label_of_new_machine(label.machine.site))
    client.force_login(make_person("planner"))
    refused = triage(client, first, what="open", title="Flow", severity="other", others=[elsewhere.pk])
    assert refused.status_code == 422 and not Finding.objects.exists()
    triage(client, first, what="open", title="Flow", severity="other", others=[second.pk])
    assert set(Finding.objects.get().fault_reports.all()) == {first, second}
    triage(client, third, what="add", finding=Finding.objects.get().pk)
    assert Finding.objects.get().fault_reports.count() == 3
    assert set(FaultReport.objects.waiting()) == {elsewhere}


def test_a_report_is_dismissed_with_a_reason_that_is_kept(client, report):
    client.force_login(make_person("planner"))
    assert triage(client, report, what="dismiss").status_code == 422
    triage(client, report, what="dismiss", reason="Hose was not connected")
    report.refresh_from_db()
    assert (report.state, report.reason) == ("dismissed", "Hose was not connected")
    assert "Hose was not connected" in text_of(client.get(report.get_absolute_url()))


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({}, "This field is required"),
        ({"what": "open", "title": "Flow"}, "Choose how severe it is"),
        ({"what": "open", "severity": "other"}, "State in a few words what is wrong"),
        ({"what": "add"}, "Choose the finding"),
        ({"what": "dismiss", "reason": " "}, "State why the report is dismissed"),
    ],
)
def test_a_triage_that_says_too_little_is_refused_and_changes_nothing(client, report, data, says):
    client.force_login(make_person("planner"))
    answer = triage(client, report, **data)
    assert answer.status_code == 422 and says in text_of(answer)
    assert FaultReport.objects.waiting().count() == 1 and not Finding.objects.exists()


def test_a_report_is_settled_once(client, report):
    client.force_login(make_person("planner"))
    dismiss_report(FaultReport.objects.get(), reason="Known", by=make_person("planner", last_name="First"), at=NOON)
    with pytest.raises(Refused, match="already settled by Test First"):
        dismiss_report(report, reason="Known", by=None, at=NOON)
    answer = client.post(report.get_absolute_url(), {"what": "open", "title": "x", "severity": "other"}, follow=True)
    assert "already settled" in text_of(answer) and not Finding.objects.exists()


def test_a_report_joins_only_an_open_finding_of_its_machine(report):
    other = report_fault(
        label_of_new_machine(report.machine.site).machine, title="x", severity="other", by=None, at=NOON
    )
    with pytest.raises(Refused, match="another machine"):
        add_report_to_finding(report, other, by=None, at=NOON)
    closed = report_fault(report.machine, title="x", severity="other", by=None, at=NOON)
    close_finding(closed, note="Mended", by=make_person("planner"), at=NOON)
    with pytest.raises(Refused, match="already closed"):
        add_report_to_finding(report, closed, by=None, at=NOON)
    assert FaultReport.objects.waiting().exists()


def test_who_may_not_triage_reads_the_report_and_changes_nothing(client, report):
    client.force_login(make_person("auditor"))
    assert "Flow drops" in text_of(client.get(report.get_absolute_url()))
    assert triage(client, report, what="dismiss", reason="x").status_code == 403
    client.force_login(make_person("planner", sites=[make_site()]))
    assert triage(client, report, what="dismiss", reason="x").status_code == 404
    client.force_login(make_person())
    assert client.get(LIST).status_code == 403
    assert FaultReport.objects.waiting().exists()


def test_home_counts_what_its_list_shows_for_every_reader(client, label):
    other = label_of_new_machine(make_site(has_label_page=True))
    settled = make_report(other, "Known")
    dismiss_report(settled, reason="Known", by=None, at=NOON)
    for number in range(7):
        make_report(label if number % 3 else other, f"Fault {number}")
    for sites in ([], [label.machine.site], [other.machine.site], [make_site()]):
        planner = make_person("planner", sites=sites)
        client.force_login(planner)
        [item] = [one for one in planner_part(planner, NOON, TODAY).items if "needs triage" in one.text
                  or "need triage" in one.text]  # fmt: skip
        rows = client.get(item.url or LIST).context["table"].rows
        assert item.number == len(rows) and item.is_urgent == bool(item.number)


def test_the_digest_tells_which_reports_wait_and_for_how_long(label):
    make_person("planner", email="plan@example.org")
    six = NOON.replace(hour=6)
    report = make_report(label, at=six - timedelta(days=3))
    job = request_job("digest", title="Send the digests", params={}, by=None, at=six)
    run_waiting_job(job.pk, clock=lambda: six, pulse=False)
    [message] = mail.outbox
    assert "! 1 fault report from a machine's label needs triage" in message.body
    assert f"{report.number}, {label.machine}, waiting 3 days" in message.body
    assert "/fault-reports/?view=waiting" in message.body


@pytest.mark.parametrize(
    ("hours", "words"),
    [(0.5, "less than an hour"), (1, "1 hour"), (23.9, "23 hours"), (24, "1 day"), (49, "2 days")],
)
def test_the_age_of_a_report_is_said_in_hours_and_days(hours, words):
    assert age_words(NOON, NOON + timedelta(hours=hours)) == words


def test_the_page_of_a_machine_says_that_a_report_needs_triage_while_it_waits(client, report):
    client.force_login(make_person("planner"))
    with time_machine.travel(NOON):
        address = report.machine.get_absolute_url()
        assert "Needs triage" in text_of(client.get(address)) and report.number in text_of(client.get(address))
        dismiss_report(report, reason="Known", by=None, at=NOON)
        assert "Needs triage" not in text_of(client.get(address))


def test_the_list_takes_as_many_queries_for_many_reports_as_for_few(client, label, django_assert_max_num_queries):
    client.force_login(make_person("planner"))
    for number in range(20):
        make_report(label_of_new_machine(label.machine.site), f"Fault {number}")
        if number == 2:
            client.get(LIST)
            with django_assert_max_num_queries(12) as few:
                client.get(LIST)
    with django_assert_max_num_queries(len(few.captured_queries)):
        client.get(LIST)
