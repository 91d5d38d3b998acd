"""Questions about background jobs, as QuerySet methods that read as English."""

from django.db import models
from django.db.models import Q

OPEN_STAGES = ("waiting", "running")


class JobQuerySet(models.QuerySet):
    def visible_to(self, person):
        """A person's own jobs; with the permission to see jobs also what runs by itself, and everybody's if the person
        is not narrowed to sites, since a job may tell of any site."""
        if not person.is_authenticated:
            return self.none()
        if not person.has_perm("fleet.view_job"):
            return self.filter(by=person)
        return self.filter(Q(by=person) | Q(by=None)) if person.site_ids else self

    def open(self):
        """Waiting or running."""
        return self.filter(stage__in=OPEN_STAGES)

    def closed(self):
        return self.exclude(stage__in=OPEN_STAGES)

    def waiting(self):
        return self.filter(stage="waiting")

    def running(self):
        return self.filter(stage="running")

    def silent(self, *, at, lease):
        """Running, but whoever runs it gave no sign of life within `lease` before `at`.

        A sign of life that lies further ahead than that is of a clock that was wrong: nobody gives it now.
        """
        return self.running().filter(Q(heartbeat_at__lt=at - lease) | Q(heartbeat_at__gt=at + lease))

    def unsent_since(self, asked, sent, *, at):
        """Waiting, the oldest first: given up by a run, or asked for before `asked` and not sent since `sent`.

        What was asked for or sent after `at` is of a clock that was wrong, and counts as long ago.
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
        """The row of `job` while this very attempt at it is the one that counts."""
        return self.running().filter(pk=job.pk, attempt=job.attempt)

    def oldest_first(self):
        return self.order_by("asked_at", "pk")
