"""Compare the database with what was acknowledged."""

import subprocess
import sys
import time
import zipfile
from collections import Counter

import psycopg
from django.db import OperationalError, connection
from django.utils import timezone

from fleet.actions import recover_jobs, request_job
from fleet.jobs.lifecycle import MOST_ATTEMPTS
from fleet.models import Job, Person
from inspections.jobs.papers import request_record_papers
from inspections.jobs.planning import PLAN_DUE
from inspections.models import Inspection
from tests.services.bobbin import ROOT
from tests.services.programs import PATIENCE_S

READINGS = """
    SELECT step_id, field || CASE WHEN "column" = '' THEN '' ELSE '.' || "row" || '.' || "column" END,
           as_read, unit, entered_by_id
    FROM inspections_reading WHERE step_id = ANY(%s)
"""
RECORDS = """
    SELECT i.id, i.stage, (SELECT count(*) FROM inspections_signedrecord r WHERE r.inspection_id = i.id)
    FROM inspections_inspection i WHERE i.id = ANY(%s)
"""
PHOTOGRAPHS = """
    SELECT step_id, caption, content IS NOT NULL FROM inspections_photograph WHERE step_id = ANY(%s)
"""
OPEN = """
    SELECT machine_id, count(*) FROM inspections_inspection
    WHERE machine_id = ANY(%s) AND stage IN ('planned', 'booked', 'on bench') GROUP BY machine_id
"""


def insist(act, seconds=PATIENCE_S):
    """Use the database, and try again if it is down. Raise the last error after `seconds`."""
    end = time.monotonic() + seconds
    while True:
        try:
            connection.close()
            return act()
        except OperationalError:
            if time.monotonic() > end:
                raise
            time.sleep(0.2)


def reading_troubles(url, entered):
    """Return a sentence for each acknowledged reading that is missing or duplicated."""
    acknowledged = {(e.step, e.slot, e.as_read, e.unit, e.person) for e in entered}
    with psycopg.connect(url) as database:
        found = Counter(database.execute(READINGS, [sorted({e.step for e in entered})]).fetchall())
    lost = [f"reading lost: {entry}" for entry in sorted(acknowledged - set(found))]
    return lost + [f"reading kept {number} times: {entry}" for entry, number in found.items() if number > 1]


def photograph_troubles(url, taken):
    """Return a sentence for each acknowledged photograph that is missing, duplicated or without its picture."""
    with psycopg.connect(url) as database:
        found = Counter(database.execute(PHOTOGRAPHS, [sorted({step for step, _ in taken})]).fetchall())
    wanted = Counter((step, caption, True) for step, caption in taken)
    return [f"photograph {one}: {found[one]} times, not {wanted[one]}" for one in (wanted - found) + (found - wanted)]


def signature_troubles(url, signed):
    """Return a sentence for each acknowledged signature without exactly one record."""
    with psycopg.connect(url) as database:
        found = {pk: (stage, records) for pk, stage, records in database.execute(RECORDS, [sorted(signed)])}
    wanted = ("signed", 1)
    return [f"inspection {pk} was signed: {found.get(pk)}" for pk in sorted(signed) if found.get(pk) != wanted]


def chain_answer(env):
    """Return the output of `manage.py verify_records`, and whether it found everything as signed."""
    command = [sys.executable, "manage.py", "verify_records"]
    done = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True)
    said = done.stdout.strip() if done.returncode == 0 else done.stdout + done.stderr
    return said, done.returncode == 0


def _is_over(job):
    """Return whether a job is done, or was killed so often that it was given up, which its page says."""
    return job.stage == "done" or (job.stage == "failed" and job.attempt >= MOST_ATTEMPTS and "ended" in job.error)


class Jobs:
    """Requests background jobs from the worker, and counts their results."""

    def __init__(self, setting):
        self.setting = setting
        self.person = Person.objects.get(pk=setting.technicians[0]["pk"])
        self.asked, self.machines, self.papers = [], [], {}

    def ask(self, number):
        """Register due machines and request their planning; every third time also PDFs of the latest records."""
        insist(lambda: self.machines.extend(self.setting.add_due(3)))
        self.asked.append(insist(lambda: self._plan(number)).pk)
        if number % 3 == 0:
            insist(self._papers)

    def _plan(self, number):
        now = timezone.now()
        params = {"on": now.date().isoformat()}
        return request_job(PLAN_DUE, title="Plan", params=params, by=None, at=now, key=f"kill-run-{number}")

    def _papers(self):
        latest = list(Inspection.objects.signed().order_by("-pk").values_list("pk", flat=True)[:6])
        if latest:
            chosen = Inspection.objects.filter(pk__in=latest)
            job = request_record_papers(chosen, by=self.person, at=timezone.now())
            self.asked.append(job.pk)
            self.papers[job.pk] = len(job.params["inspections"])

    def recover(self):
        """Run the task that beat starts every minute, here after every kill."""
        from datetime import timedelta

        insist(lambda: recover_jobs(at=timezone.now(), lease=timedelta(seconds=5)))

    def finish(self, seconds=4 * PATIENCE_S):
        """Wait until no job is open; send again what is no longer queued."""
        from fleet.jobs.sending import send_to_worker

        end = time.monotonic() + seconds
        while time.monotonic() < end and insist(lambda: Job.objects.open().exists()):
            self.recover()
            for pk in insist(lambda: list(Job.objects.waiting().values_list("pk", flat=True))):
                send_to_worker(pk)
            time.sleep(1)

    def troubles(self, url):
        """Return a sentence for each job not done, machine not planned exactly once, and incomplete archive."""
        found = {job.pk: job for job in Job.objects.filter(pk__in=self.asked)}
        told = [f"job {job.pk}: {job.stage} {job.error}" for job in found.values() if not _is_over(job)]
        with psycopg.connect(url) as database:
            planned = dict(database.execute(OPEN, [self.machines]).fetchall())
        told += [
            f"machine {pk} was planned for {planned.get(pk, 0)} times" for pk in self.machines if planned.get(pk) != 1
        ]
        for pk, number in self.papers.items():
            if found[pk].stage == "done":
                with found[pk].file.open() as file, zipfile.ZipFile(file) as archive:
                    told += [] if len(archive.namelist()) == number else [f"job {pk}: {archive.namelist()}"]
        return told

    def words(self):
        asked = Job.objects.filter(pk__in=self.asked)
        again, given_up = asked.filter(attempt__gt=1).count(), asked.filter(stage="failed").count()
        return (
            f"{asked.count()} jobs asked for, {again} of them taken up again after a death, "
            f"{given_up} given up after {MOST_ATTEMPTS} deaths, as their pages say; "
            f"{len(self.machines)} machines planned for, {len(self.papers)} archives of papers"
        )
