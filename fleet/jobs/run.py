"""One attempt at a job, as its function uses it."""

import logging
from contextlib import contextmanager
from threading import Event, Thread

from django.db import OperationalError, connection

from fleet.jobs.errors import Cancelled, Lost, Stopped
from fleet.jobs.lifecycle import finish_job
from fleet.models import Job

PULSE_SECONDS = 1.0
log = logging.getLogger(__name__)


class Run:
    """What a kind of work is given: `params` and `by` of the job, `started_at`, and the means to report progress.

    clock    function that returns the present moment
    stop     an Event that is set when the process must end
    """

    def __init__(self, job, *, clock, stop=None):
        self.job, self.clock = job, clock
        self.params, self.by, self.started_at = job.params, job.by, job.started_at
        self.is_finished = False
        self._told = (0, 0, "")
        self._interruption = None
        self._stop = stop or Event()
        self._has_pulse = False

    def progress(self, done, total=None, words=None):
        """Report progress. Raise Cancelled, Lost or Stopped when it must end: let them pass."""
        was = self._told
        self._told = (done, was[1] if total is None else total, (was[2] if words is None else words)[:200])
        if not self._has_pulse:
            self.beat()
        if self._interruption:
            raise self._interruption
        if self._stop.is_set():
            raise Stopped

    def each(self, items, words="", *, total=None):
        """Yield the items, and store before each how many are done; give `total` for items without a length."""
        total = len(items) if total is None else total
        done = 0
        for done, item in enumerate(items):
            self.progress(done, total, words)
            yield item
            done += 1
        self.progress(done, total, words)

    def finish(self, result):
        """Close the job as done within the caller's transaction. Raise Lost if another attempt has taken it over."""
        done, total, words = self._told
        finish_job(self.job, result, at=self.clock(), done=total or done, total=total, words=words)
        self.is_finished = True

    def beat(self):
        """Write the heartbeat with the latest progress, and check whether to go on."""
        done, total, words = self._told
        held = Job.objects.held_by(self.job)
        if not held.update(heartbeat_at=self.clock(), done=done, total=total, words=words):
            self._interruption = Lost()
        elif held.filter(cancel_asked_at__isnull=False).exists():
            self._interruption = Cancelled()

    @contextmanager
    def pulse(self, seconds=PULSE_SECONDS):
        """Write heartbeats from a separate thread, whose connection is outside the transaction of the job."""
        over = Event()
        thread = Thread(target=self._keep_beating, args=(over, seconds), name=f"pulse-{self.job.pk}", daemon=True)
        self._has_pulse = True
        thread.start()
        try:
            yield self
        finally:
            over.set()
            thread.join(timeout=30)

    def _keep_beating(self, over, seconds):
        try:
            while not over.wait(seconds) and self._interruption is None and not self.is_finished:
                try:
                    self.beat()
                except OperationalError:
                    # A long transaction of SQLite locks the database; no other process can take up the job meanwhile.
                    connection.close()
        finally:
            connection.close()
