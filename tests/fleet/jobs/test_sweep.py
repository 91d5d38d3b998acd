"""The task of every minute: daily jobs are requested once a day, old results are removed."""

import os
from datetime import UTC, datetime, time, timedelta

import pytest
from django.core.files.base import ContentFile
from django.core.management import call_command

from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import request_due_jobs, run_daily
from fleet.jobs.running import run_waiting_jobs
from fleet.jobs.sweep import remove_old_results, sweep
from fleet.models import Job
from fleet.models.jobs import job_files
from tests.factories import NOON


@pytest.fixture(autouse=True)
def one_daily_kind(monkeypatch):
    """The only daily work is called tidy, wanted from three o'clock on."""
    monkeypatch.setattr("fleet.jobs.kinds._kinds", {})
    monkeypatch.setattr("fleet.jobs.periodic._periodic", {})
    job_kind("tidy", "Tidying")(lambda run: Result("Tidied."))
    run_daily("tidy", "Tidy up", at=time(3, 0))


def at(hour, day=2):
    return datetime(2026, 11, day, hour, 0, tzinfo=UTC)


def test_daily_work_is_asked_for_once_a_day_from_its_hour_on(db):
    assert request_due_jobs(at=at(2)) == 0
    assert [request_due_jobs(at=at(hour)) for hour in (3, 4, 23)] == [1, 0, 0]
    assert request_due_jobs(at=at(9, day=3)) == 1, "what was missed at three is made up for"
    assert [str(job.due_on) for job in Job.objects.oldest_first()] == ["2026-11-02", "2026-11-03"]


def test_two_who_look_at_the_clock_at_once_ask_for_one_job(db):
    request_due_jobs(at=at(3))
    asked = {"title": "Tidy up", "params": {}, "by": None, "key": "tidy:2026-11-02", "due_on": at(3).date()}
    assert request_job("tidy", at=at(3), **asked) == Job.objects.get()
    run_waiting_jobs(clock=lambda: at(4), pulse=False)
    assert request_job("tidy", at=at(5), **asked) == Job.objects.get(), "done already today"


def test_work_that_is_not_wanted_is_not_asked_for(db, monkeypatch):
    run_daily("tidy", "Tidy up", at=time(3, 0), is_wanted=lambda: False)
    assert request_due_jobs(at=at(4)) == 0


def finished(moment, name="old.txt"):
    job = Job.objects.create(
        kind="tidy", title="Tidy", key=name, asked_at=moment, finished_at=moment, stage="done", file_name=name
    )
    job.file.save(f"{job.pk}-{name}", ContentFile(b"result"))
    return job


def test_a_result_goes_after_14_days_and_its_job_after_a_year(db):
    old, young = finished(NOON - timedelta(days=15)), finished(NOON - timedelta(days=13), "young.txt")
    path = old.file.path
    remove_old_results(at=NOON)
    old.refresh_from_db()
    young.refresh_from_db()
    assert not old.file and not os.path.exists(path) and old.stage == "done"
    assert os.path.exists(young.file.path)
    remove_old_results(at=NOON + timedelta(days=351))
    assert list(Job.objects.all()) == [young]


def test_a_file_that_no_job_names_is_removed_after_a_day(db):
    name = job_files().save("stray.zip", ContentFile(b"half"))
    written = job_files().get_modified_time(name)
    remove_old_results(at=written + timedelta(hours=23))
    assert job_files().exists(name)
    kept = finished(written, "kept.txt")
    remove_old_results(at=written + timedelta(hours=25))
    assert not job_files().exists(name) and os.path.exists(kept.file.path)


def test_the_command_asks_for_what_is_due_and_does_it(db, capsys):
    call_command("run_jobs")
    assert capsys.readouterr().out == "0 jobs done.\n"
    run_daily("tidy", "Tidy up", at=time(0, 0))
    call_command("run_jobs", "--due")
    assert capsys.readouterr().out == "1 job done.\n"
    assert Job.objects.get().result == "Tidied."


def test_a_sweep_is_safe_to_repeat(db):
    for _ in range(2):
        sweep(at=at(4))
    assert Job.objects.count() == 1
