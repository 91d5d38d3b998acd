"""The email digest: to whom, what it says, and at most once a day."""

import smtplib
from datetime import UTC, date, datetime, timedelta

import pytest
from django.core import mail
from django.urls import reverse

from fleet.actions import request_job
from fleet.jobs.periodic import request_due_jobs
from fleet.jobs.running import run_waiting_job
from fleet.models import Digest, Job
from inspections.actions import book_inspection
from tests.factories import make_area, make_inspection, make_instrument, make_machine, make_person, make_site

SIX = datetime(2026, 11, 2, 6, 0, tzinfo=UTC)


def send(at=SIX):
    job = request_job("digest", title="Send the digests", params={}, by=None, at=at)
    run_waiting_job(job.pk, clock=lambda: at, pulse=False)
    job.refresh_from_db()
    return job


@pytest.fixture
def overdue(db):
    site = make_site()
    machine = make_machine(area=make_area(site))
    return make_inspection(machine, due_on=date(2026, 8, 1))


def planner(**fields):
    return make_person("planner", **{"email": "plan@example.org", **fields})


def test_a_planner_is_told_what_is_late_with_links(overdue, settings):
    settings.BASE_URL = "https://bobbin.example.org"
    planner()
    assert send().result == "1 digest sent."
    [message] = mail.outbox
    assert message.to == ["plan@example.org"] and message.subject == "Bobbin, 2 November 2026: 1 urgent"
    assert "! 1 inspection is overdue\n" in message.body
    assert "https://bobbin.example.org/inspections/?view=overdue" in message.body
    assert str(overdue.machine) in message.body
    assert f"https://bobbin.example.org{reverse('fleet:digest')}" in message.body


def test_a_person_gets_one_a_day_however_often_it_runs(overdue):
    planner()
    assert [send().result for _ in range(2)] == ["1 digest sent.", "0 digests sent."]
    assert send(SIX + timedelta(days=1)).result == "1 digest sent."
    assert len(mail.outbox) == 2


@pytest.mark.parametrize("fields", [{"wants_digest": False}, {"email": ""}, {"is_active": False}])
def test_who_chose_not_to_or_cannot_gets_none(overdue, fields):
    planner(**fields)
    assert send().result == "0 digests sent." and not mail.outbox


def test_nobody_is_told_of_another_site(overdue):
    planner(sites=[make_site()])
    assert send().result == "0 digests sent."


def test_a_technician_is_told_the_bench_of_the_day(overdue):
    technician = make_person("technician", email="bench@example.org")
    book_inspection(overdue, technician=technician, booked_on=SIX.date(), by=None, at=SIX)
    send()
    assert "  1 inspection booked for you is due by today\n" in mail.outbox[0].body


def test_a_planner_is_told_of_instruments_that_run_out(db):
    make_instrument(due_on=date(2026, 11, 20))
    planner()
    send()
    assert "1 instrument is due for calibration within 30 days" in mail.outbox[0].body


def test_a_manager_is_told_once_a_month(db):
    make_area(minimum_machines=2)
    make_person("manager", email="m@example.org")
    days = (SIX, SIX + timedelta(days=1), SIX + timedelta(days=29))
    assert [send(day).result for day in days] == ["1 digest sent.", "0 digests sent.", "1 digest sent."]
    assert Digest.objects.with_month().count() == 2


def test_a_mail_server_that_is_away_fails_the_job_and_costs_nobody_the_digest(overdue, monkeypatch):
    planner()
    with monkeypatch.context() as patch:
        patch.setattr("django.core.mail.backends.locmem.EmailBackend.open", refuse_connection)
        job = send()
    assert job.stage == "failed" and "The mail server does not respond (ConnectionRefusedError)" in job.error
    assert send().result == "1 digest sent."


def refuse_connection(backend):
    raise ConnectionRefusedError


def test_a_mail_that_is_not_taken_is_told_by_number_only_and_not_sent_twice(overdue, monkeypatch):
    planner()

    def refuse(backend, messages):
        raise smtplib.SMTPRecipientsRefused({"plan@example.org": (550, b"no such person")})

    monkeypatch.setattr("django.core.mail.backends.locmem.EmailBackend.send_messages", refuse)
    job = send()
    assert job.result == "0 digests sent. 1 could not be sent: the mail server did not accept them."
    assert "plan@" not in str(Job.objects.values().get())
    monkeypatch.undo()
    assert send().result == "0 digests sent." and not Digest.objects.sent().exists()


def test_the_daily_digest_waits_until_mail_is_set_up(db, settings):
    request_due_jobs(at=SIX)
    assert not Job.objects.filter(kind="digest").exists()
    settings.EMAIL_URL = "smtp://mail.example.org:25"
    request_due_jobs(at=SIX)
    assert Job.objects.filter(kind="digest").count() == 1


def test_a_person_chooses_on_a_page(db, client):
    person = planner()
    client.force_login(person)
    url = reverse("fleet:digest")
    assert "This installation does not send email yet" in client.get(url).content.decode()
    refused = client.post(url, {"wants_digest": "on", "email": ""})
    assert "Enter the address" in refused.content.decode()
    person.refresh_from_db()
    assert person.email == "plan@example.org"
    assert client.post(url, {"email": "plan@example.org"}).status_code == 302
    person.refresh_from_db()
    assert person.wants_digest is False
