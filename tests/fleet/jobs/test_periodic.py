"""Jobs while the clock of a computer is wrong: ahead, and set back afterwards."""

from datetime import time, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from config.health.heartbeat import BeatingScheduler
from fleet.actions import cancel_job, recover_jobs, request_job
from fleet.jobs import Lost, Result, Run, job_kind
from fleet.jobs.lifecycle import claim_job
from fleet.jobs.periodic import request_due_jobs, run_daily
from fleet.jobs.running import run_waiting_job
from fleet.models import Job
from tests.factories import NOON, make_person

LEASE = timedelta(seconds=60)


@pytest.fixture(autouse=True)
def one_kind(monkeypatch):
    monkeypatch.setattr("fleet.jobs.kinds._kinds", {})
    monkeypatch.setattr("fleet.jobs.periodic._periodic", {})
    job_kind("work", "Work")(lambda run: Result("Done."))


def ask(at, **fields):
    return request_job("work", title="Work", params={}, by=None, at=at, **fields)


def taken_up(ahead):
    """A job started and abandoned by a process whose clock was ahead."""
    return claim_job(ask(NOON + ahead).pk, at=NOON + ahead)


AHEAD = st.timedeltas(timedelta(seconds=61), timedelta(days=4000))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], max_examples=20)
@given(ahead=AHEAD)
def test_a_job_left_by_a_clock_that_was_ahead_is_taken_up_again(db, ahead):
    Job.objects.all().delete()
    job = taken_up(ahead)
    assert recover_jobs(at=NOON, lease=LEASE) == 1
    assert run_waiting_job(job.pk, clock=lambda: NOON, pulse=False) == "done"


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], max_examples=20)
@given(ahead=AHEAD)
def test_a_job_left_by_a_clock_that_was_ahead_is_cancelled_at_once(db, ahead):
    Job.objects.all().delete()
    job = taken_up(ahead)
    cancel_job(job, by=None, at=NOON)
    job.refresh_from_db()
    assert (job.stage, job.finished_at) == ("cancelled", NOON)
    with pytest.raises(Lost):
        Run(job, clock=lambda: NOON).finish(Result("Too late."))


def test_a_run_that_lives_is_asked_to_stop_and_not_ended_by_force(db):
    job, person = taken_up(timedelta(0)), make_person("planner")
    cancel_job(job, by=person, at=NOON + timedelta(seconds=5))
    job.refresh_from_db()
    assert (job.stage, job.cancel_asked_by) == ("running", person)


def test_a_clock_set_back_while_a_run_lives_changes_nothing(db):
    """The next heartbeat has the present time of the clock, within a second."""
    job = taken_up(timedelta(hours=2))
    Run(job, clock=lambda: NOON).beat()
    assert recover_jobs(at=NOON, lease=LEASE) == 0


def test_a_job_asked_for_by_a_clock_that_was_ahead_is_sent_to_the_worker_again(db, monkeypatch):
    sent = []
    monkeypatch.setattr("fleet.jobs.lifecycle.send_to_worker", sent.append)
    job = ask(NOON + timedelta(days=1))
    recover_jobs(at=NOON, lease=LEASE)
    recover_jobs(at=NOON, lease=LEASE)
    assert sent == [job.pk]


def test_daily_work_done_for_a_day_still_to_come_is_done_on_that_day_too(db):
    run_daily("work", "Work", at=time(3, 0))
    for days in (3, 0, 1, 2, 3):
        moment = NOON + timedelta(days=days)
        assert request_due_jobs(at=moment) == 1, days
        run_waiting_job(Job.objects.waiting().get().pk, clock=lambda at=moment: at, pulse=False)


def test_the_scheduler_of_celery_goes_on_after_its_clock_was_set_back(tmp_path):
    from config.celery import app

    scheduler = BeatingScheduler(app, schedule_filename=str(tmp_path / "schedule"), lazy=True)
    scheduler.setup_schedule()
    entries = scheduler.schedule.values()
    for entry in entries:
        entry.last_run_at = entry.default_now() + timedelta(days=2)
    scheduler.mend_clock()
    [sweep] = [entry for entry in entries if "sweep" in entry.task]
    assert sweep.is_due().next <= 60
    scheduler.close()
