"""The sign of life that the scheduler without a broker leaves in the database, where the health page looks for it."""

from datetime import timedelta

from django.db.models import Max

from fleet.models import Heartbeat, Job

SCHEDULER = "scheduler"
EVERY = timedelta(seconds=15)


def leave_heartbeat(name, *, at):
    """Write that something lives. Safe to repeat."""
    Heartbeat.objects.update_or_create(name=name, defaults={"at": at})


def last_heartbeat():
    """Return when the scheduler last gave a sign of life, at its rounds or by the job that it does; None for never."""
    own = Heartbeat.objects.filter(name=SCHEDULER).values_list("at", flat=True).first()
    of_job = Job.objects.running().aggregate(at=Max("heartbeat_at"))["at"]
    return max((at for at in (own, of_job) if at is not None), default=None)


class Beating:
    """Leaves the scheduler's sign of life at most once in EVERY, or at once when the clock was set back."""

    def __init__(self):
        self.last = None

    def beat(self, *, at):
        if self.last is None or abs(at - self.last) >= EVERY:
            leave_heartbeat(SCHEDULER, at=at)
            self.last = at
