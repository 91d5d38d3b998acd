"""The heartbeat that the scheduler stores at the broker in every round, so that it differs from the worker's."""

import logging
import time

from celery.beat import PersistentScheduler
from django.conf import settings

from fleet.late.services import redis

KEY = "bobbin:scheduler"
ROUND_S = 15
KEPT_S = 24 * 60 * 60
logger = logging.getLogger("bobbin.scheduler")


class BeatingScheduler(PersistentScheduler):
    """Celery's scheduler, which wakes at least every ROUND_S seconds and leaves a heartbeat."""

    def tick(self, *arguments, **options):
        self.mend_clock()
        wait = super().tick(*arguments, **options)
        leave_beat()
        return min(wait, ROUND_S)

    def mend_clock(self):
        """Treat a last run in the future, from a wrong clock, as now; the task would otherwise wait until then."""
        for entry in self.schedule.values():
            entry.last_run_at = min(entry.last_run_at, entry.default_now())


def leave_beat() -> None:
    """Store the time at the broker. If the broker is down, the schedule goes on and tries again at the next round."""
    try:
        with _broker() as client:
            client.set(KEY, time.time(), ex=KEPT_S)
    except redis.RedisError as error:
        logger.warning("The broker did not accept the heartbeat: %s", type(error).__name__)


def seconds_since_beat() -> float | None:
    """Return the age of the last heartbeat, negative if it is in the future; None if there was none for a day."""
    with _broker() as client:
        at = client.get(KEY)
    return None if at is None else time.time() - float(at)


def _broker():
    return redis.from_url(settings.REDIS_URL, socket_timeout=2, socket_connect_timeout=2)
