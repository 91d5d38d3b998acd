"""Send a job to the Celery worker, where there is one."""

import logging

from celery import current_app
from django.conf import settings
from kombu.exceptions import OperationalError

RUN_JOB = "fleet.jobs.tasks.run_job"  # by name, since the task runs what queues jobs
log = logging.getLogger(__name__)


def send_to_worker(pk):
    """Queue the job `pk`. Without a broker the scheduler finds it; if the broker is down, the next sweep sends it."""
    if not settings.REDIS_URL:
        return
    try:
        current_app.send_task(RUN_JOB, (pk,), retry=False, ignore_result=True)
    except OperationalError:
        log.warning("job %s could not be queued: the broker does not respond; it is queued again within minutes", pk)
