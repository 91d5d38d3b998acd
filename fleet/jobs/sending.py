"""Send a job to the Celery worker, where there is one."""

import logging

from django.conf import settings
from kombu.exceptions import OperationalError

log = logging.getLogger(__name__)


def send_to_worker(pk):
    """Queue the job `pk`. Without a broker the scheduler finds it; if the broker is down, the next sweep sends it."""
    if not settings.REDIS_URL:
        return
    from fleet.tasks import run_job

    try:
        run_job.apply_async((pk,), retry=False)
    except OperationalError:
        log.warning("job %s could not be queued: the broker does not answer; it is sent again within minutes", pk)
