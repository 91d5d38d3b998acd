"""What a Celery worker does for background jobs. The scheduler without a broker calls the same functions."""

from celery import shared_task
from django.utils import timezone

from fleet.jobs.running import run_waiting_job
from fleet.jobs.sweep import sweep


@shared_task(ignore_result=True)
def run_job(pk):
    """Run the job if it waits. Safe to deliver twice: only one delivery can start it."""
    return run_waiting_job(pk, clock=timezone.now)


@shared_task(ignore_result=True)
def sweep_jobs():
    """Request due jobs, recover runs that died, remove old files. Every minute; safe to repeat."""
    sweep(at=timezone.now())
