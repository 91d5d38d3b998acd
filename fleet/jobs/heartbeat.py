"""The heartbeat that the scheduler without a broker writes into the database, for the health page."""

from datetime import timedelta

from django.db.models import Max

from fleet.models import Heartbeat, Job

SCHEDULER = "scheduler"
EVERY = timedelta(seconds=15)


def leave_heartbeat(name, *, at):
    """Write a heartbeat. Safe to repeat."""
    Heartbeat.objects.update_or_create(name=name, defaults={"at": at})


def last_heartbeat():
    """Return the time of the scheduler's last heartbeat, from its rounds or from a running job; None for never."""
    own = Heartbeat.objects.filter(name=SCHEDULER).values_list("at", flat=True).first()
    of_job = Job.objects.running().aggregate(at=Max("heartbeat_at"))["at"]
    return max((at for at in (own, of_job) if at is not None), default=None)


class Beating:
    """Writes the scheduler's heartbeat at most once in EVERY, and immediately when the clock was set back."""

    def __init__(self):
        self.last = None

    def beat(self, *, at):
        if self.last is None or abs(at - self.last) >= EVERY:
            leave_heartbeat(SCHEDULER, at=at)
            self.last = at
