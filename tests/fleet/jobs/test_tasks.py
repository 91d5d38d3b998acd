"""Background jobs in processes of their own, with a broker and without, killed in the middle."""

import signal
import sqlite3
import subprocess
import sys
import time
import urllib.request
from os import environ
from pathlib import Path

import pytest
from celery import Celery

from tests.services.bobbin import ROOT, celery_worker, manage
from tests.services.programs import PATIENCE_S, free_port, listens, running, wait_until

SIGNED_RECORDS = """
from datetime import timedelta
from pathlib import Path
from tests.factories import NOON
from tests.inspections.scenes import make_scene
from inspections.jobs.papers import request_record_papers
from inspections.models import Inspection
folder = Path({folder!r}); folder.mkdir()
scene = make_scene(folder)
scene.complete()
scene.sign()
for day in range(1, 6):
    scene.again(at=NOON + timedelta(days=day))
    scene.complete(at=NOON + timedelta(days=day))
    scene.sign(at=NOON + timedelta(days=day))
request_record_papers(Inspection.objects.all(), by=scene.technician, at=NOON)
"""
ONE_SITE = """
import sys, time
from django.db import transaction
from django.utils import timezone
from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from fleet.jobs.running import run_waiting_jobs
from fleet.models import Site
@job_kind("one-site", "One site")
def one_site(run):
    with transaction.atomic():
        Site.objects.create(code="site-%d" % run.job.attempt, name="Site %d" % run.job.attempt)
        print("inside", flush=True)
        time.sleep({seconds})
        run.finish(Result("Made."))
request_job("one-site", title="One site", params={{}}, by=None, at=timezone.now())
run_waiting_jobs(clock=timezone.now)
"""
# The first attempt never gets beyond its first progress, so that it is killed in the middle however late.
HELD = """
CREATE TRIGGER held AFTER UPDATE OF words ON fleet_job WHEN NEW.attempt = 1 AND NEW.words = 'Writing records' BEGIN
    SELECT count(*) FROM (WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT x FROM n);
END
"""
WORKER = [sys.executable, "-m", "celery", "-A", "config", "worker", "--pool=solo", "--without-gossip",
          "--without-mingle", "--loglevel=INFO"]  # fmt: skip


def rows(installation, query):
    path = installation["DATABASE_URL"].removeprefix("sqlite:///")
    with sqlite3.connect(path, timeout=PATIENCE_S) as database:
        return database.execute(query).fetchall()


def until(condition, what, seconds=PATIENCE_S):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, f"{what}: not within {seconds} s"
        time.sleep(0.05)


@pytest.fixture
def short_lease(installation):
    return installation | {"JOB_LEASE_SECONDS": "2"}


def test_a_worker_killed_in_the_middle_is_followed_by_one_result(short_lease, tmp_path):
    manage("shell", "-v", "0", "-c", SIGNED_RECORDS.format(folder=str(tmp_path / "procedures")), **short_lease)
    rows(short_lease, HELD)

    def job():
        return rows(short_lease, "SELECT stage, attempt, outcome FROM fleet_job WHERE kind = 'record-papers'")

    with running(WORKER, log=tmp_path / "log", env=environ | short_lease, cwd=ROOT) as worker:
        until(lambda: job()[0][0] == "running", "the worker takes the job up")
        worker.kill()
        worker.wait()
    assert job() == [("running", 1, "")], "killed in the middle"
    time.sleep(2.1)
    broker = Celery(broker=short_lease["REDIS_URL"])
    with celery_worker(**short_lease):
        broker.send_task("fleet.jobs.tasks.sweep_jobs")
        until(lambda: job()[0][0] == "done", "the second worker does it")
        for pk in [1, 1]:
            broker.send_task("fleet.jobs.tasks.run_job", (pk,))
        broker.send_task("fleet.jobs.tasks.sweep_jobs")
        time.sleep(0.5)
    assert job() == [("done", 2, "6 records written.")]
    assert len(list(Path(short_lease["DATA_DIR"], "jobs").iterdir())) == 1


def test_a_process_killed_within_its_change_leaves_none_and_the_next_makes_one(short_lease):
    without_broker = short_lease | {"REDIS_URL": ""}
    command = [sys.executable, "manage.py", "shell", "-v", "0", "-c", ONE_SITE.format(seconds=60)]
    with subprocess.Popen(
        command, cwd=ROOT, env=environ | without_broker, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout.readline() == "inside\n"
        process.kill()
    assert rows(without_broker, "SELECT stage, attempt FROM fleet_job") == [("running", 1)]
    assert rows(without_broker, "SELECT * FROM fleet_site") == []
    time.sleep(2.1)
    sweep = "from django.utils import timezone; from fleet.jobs.sweep import sweep; sweep(at=timezone.now())\n"
    done = manage("shell", "-v", "0", "-c", sweep + ONE_SITE.format(seconds=0), **without_broker)
    assert done.stdout == "inside\n"
    assert rows(without_broker, "SELECT code FROM fleet_site") == [("site-2",)]
    one_site = "SELECT stage, attempt, outcome FROM fleet_job WHERE kind = 'one-site'"
    assert rows(without_broker, one_site) == [("done", 2, "Made.")]


def planned(installation):
    told = rows(installation, "SELECT outcome FROM fleet_job WHERE title = 'Plan'")
    return told == [("0 inspections planned.",)]


def test_serving_without_a_broker_does_waiting_work_beside_the_pages_and_ends_as_one(installation, tmp_path):
    variables = installation | {"REDIS_URL": "", "TIME_ZONE": "UTC"}
    ask = "from django.utils import timezone; from fleet.actions import request_job; "
    ask += "request_job('plan-due', title='Plan', params={}, by=None, at=timezone.now())"
    manage("shell", "-v", "0", "-c", ask, **variables)
    port = free_port()
    command = [sys.executable, "manage.py", "serve", "--", "--bind", f"127.0.0.1:{port}", "--threads", "2"]
    log = tmp_path / "log"
    with running(command, log=log, env=environ | variables, cwd=ROOT) as process:
        wait_until(lambda: planned(variables), what="the scheduler", log=log, process=process)
        wait_until(lambda: listens(port), what="the web server", log=log, process=process)
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/login/") as answer:
            assert answer.status == 200
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=PATIENCE_S) == 0, log.read_text()
    with pytest.raises(OSError):
        urllib.request.urlopen(f"http://127.0.0.1:{port}/login/")
