"""Old rows are removed every day, and other rows stay."""

from datetime import timedelta

import pytest
from axes.models import AccessAttempt
from django.contrib.sessions.models import Session

from config.pruning import PERISHABLE, PRUNE
from fleet.actions import request_job
from fleet.imports.uploads import keep_upload
from fleet.jobs.periodic import request_due_jobs
from fleet.jobs.running import run_waiting_job
from fleet.models import Job, RegisterUpload
from tests.factories import NOON, make_person


def prune(at=NOON):
    job = request_job(PRUNE, title="Prune", params={}, by=None, at=at)
    run_waiting_job(job.pk, clock=lambda: at, pulse=False)
    job.refresh_from_db()
    return job


def make_session(number, expires):
    Session.objects.create(session_key=f"key-{number}", session_data="", expire_date=expires)


def make_attempt(username, moment):
    one = AccessAttempt.objects.create(username=username, failures_since_start=5, get_data="", post_data="")
    AccessAttempt.objects.filter(pk=one.pk).update(attempt_time=moment)


def test_sessions_that_ended_go_and_those_that_last_stay(db, monkeypatch):
    monkeypatch.setattr("config.pruning.BATCH", 3)
    for number in range(8):
        make_session(number, NOON - timedelta(minutes=number + 1))
    make_session("lasting", NOON + timedelta(minutes=1))
    assert "Removed: 8 sessions, 0 records" in prune().result
    assert [one.session_key for one in Session.objects.all()] == ["key-lasting"]


def test_wrong_passwords_of_long_ago_go_and_those_that_may_lock_stay(db):
    make_attempt("old", NOON - timedelta(days=8))
    make_attempt("young", NOON - timedelta(days=6))
    assert "1 record of wrong passwords" in prune().result
    assert [one.username for one in AccessAttempt.objects.all()] == ["young"]


def test_a_lockout_longer_than_a_week_is_not_cut_short(settings):
    from config.pruning import old_attempts

    settings.LOCKOUT_MINUTES = 30 * 24 * 60
    query = str(old_attempts(AccessAttempt)(NOON).query)
    assert (NOON - timedelta(days=60)).strftime("%Y-%m-%d") in query


@pytest.mark.parametrize(("days", "is_imported", "stays"), [(31, False, False), (29, False, True), (31, True, True)])
def test_a_file_that_nobody_imported_goes_after_a_month(db, days, is_imported, stays):
    upload = keep_upload(name="a.csv", content=b"x", by=make_person("planner"), at=NOON - timedelta(days=days))
    if is_imported:
        RegisterUpload.objects.filter(pk=upload.pk).update(imported_at=NOON)
    prune()
    assert RegisterUpload.objects.exists() == stays


def test_it_is_asked_for_every_day_and_says_on_its_page_how_much_went(db, client):
    request_due_jobs(at=NOON)
    job = Job.objects.get(kind=PRUNE)
    run_waiting_job(job.pk, clock=lambda: NOON, pulse=False)
    client.force_login(make_person("planner"))
    page = client.get(job.get_absolute_url()).content.decode()
    assert all(f"0 {one.many}" in page for one in PERISHABLE)
