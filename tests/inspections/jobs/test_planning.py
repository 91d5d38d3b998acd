"""The nightly plan as a job."""

from datetime import UTC, datetime

from fleet.jobs.periodic import request_due_jobs
from fleet.jobs.running import run_waiting_job
from fleet.models import Job
from inspections.models import Inspection, Procedure
from tests.factories import load_all_procedures, make_machine

THREE = datetime(2026, 11, 2, 3, 0, tzinfo=UTC)


def test_the_plan_is_made_at_three_and_told(db):
    load_all_procedures()
    make_machine()
    expected = Procedure.objects.exclude(interval_months=None).count()
    request_due_jobs(at=THREE)
    job = Job.objects.get(kind="plan-due")
    for _ in range(2):
        run_waiting_job(job.pk, clock=lambda: THREE, pulse=False)
    job.refresh_from_db()
    assert (job.stage, job.result) == ("done", f"{expected} inspections planned.")
    assert Inspection.objects.count() == expected
