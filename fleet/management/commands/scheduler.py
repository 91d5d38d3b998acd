import logging
import signal
import time
from threading import Event

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import OperationalError, close_old_connections
from django.utils import timezone

from fleet.jobs.heartbeat import Beating
from fleet.jobs.running import run_waiting_jobs
from fleet.jobs.sweep import sweep
from fleet.management.database_check import require_tables

LOOK_SECONDS = 2.0
SWEEP_SECONDS = 60.0
log = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Run background and daily jobs in this process until it is stopped; for an installation without a broker."

    def handle(self, *args, **options):
        if settings.REDIS_URL:
            self.stderr.write(
                "REDIS_URL is set: the Celery worker and beat run these jobs; running them here as well is harmless."
            )
        require_tables()
        stop = Event()
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: stop.set())
        run_until(stop)


def run_until(stop, *, clock=timezone.now):
    """Sweep every minute and run waiting jobs, until the Event `stop` is set: then the running job is queued again."""
    swept, beating = -SWEEP_SECONDS, Beating()
    while not stop.is_set():
        try:
            beating.beat(at=clock())
            if time.monotonic() - swept >= SWEEP_SECONDS:
                sweep(at=clock())
                swept = time.monotonic()
            run_waiting_jobs(clock=clock, stop=stop)
        except OperationalError as error:
            log.error("the database does not respond (%s); trying again in %s s", error, LOOK_SECONDS)
        close_old_connections()
        stop.wait(LOOK_SECONDS)
