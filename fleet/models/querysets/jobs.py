"""Questions about background jobs, as QuerySet methods that read as English."""

from django.db import models
from django.db.models import Q

OPEN_STAGES = ("waiting", "running")


class JobQuerySet(models.QuerySet):
    def visible_to(self, person):
        """Return a person's own jobs. With the permission to see jobs, add daily jobs, and everybody's if the person is
        not limited to sites, because a job may concern any site."""
        if not person.is_authenticated:
            return self.none()
        if not person.has_perm("fleet.view_job"):
            return self.filter(by=person)
        return self.filter(Q(by=person) | Q(by=None)) if person.site_ids else self

    def open(self):
        """Return waiting and running jobs."""
        return self.filter(stage__in=OPEN_STAGES)

    def closed(self):
        return self.exclude(stage__in=OPEN_STAGES)

    def waiting(self):
        return self.filter(stage="waiting")

    def running(self):
        return self.filter(stage="running")

    def silent(self, *, at, lease):
        """Return running jobs whose process left no heartbeat within `lease` before `at`.

        A heartbeat that is further than that in the future comes from a wrong clock and does not count.
        """
        return self.running().filter(Q(heartbeat_at__lt=at - lease) | Q(heartbeat_at__gt=at + lease))

    def unsent_since(self, asked, sent, *, at):
        """Return waiting jobs, oldest first: released by a run, or requested before `asked` and not sent since `sent`.

        A time after `at` comes from a wrong clock and counts as long ago.
        """
        given_up = Q(attempt__gt=0, heartbeat_at=None)
        was_asked = Q(asked_at__lt=asked) | Q(asked_at__gt=at)
        long_ago = was_asked & (Q(heartbeat_at=None) | Q(heartbeat_at__lt=sent) | Q(heartbeat_at__gt=at))
        return self.waiting().filter(given_up | long_ago).oldest_first()

    def finished_before(self, moment):
        return self.closed().filter(finished_at__lt=moment)

    def with_file(self):
        return self.exclude(file="")

    def held_by(self, job):
        """Return the row of `job` while this attempt is the current one."""
        return self.running().filter(pk=job.pk, attempt=job.attempt)

    def oldest_first(self):
        return self.order_by("asked_at", "pk")
