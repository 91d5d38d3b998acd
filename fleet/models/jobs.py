"""Background jobs: who requested what, its progress and its result."""

from datetime import timedelta

from django.conf import settings
from django.core.files.storage import FileSystemStorage
from django.db import models
from django.db.models import Q

from fleet.models.people import Person
from fleet.models.querysets.jobs import OPEN_STAGES, JobQuerySet
from fleet.web.key_addresses import key_address

SOON_TAKEN_UP = timedelta(seconds=90)


def job_files():
    """Return the storage of job files, which the web server does not serve directly."""
    return FileSystemStorage(
        location=settings.DATA_DIR / "jobs",
        base_url=None,
        file_permissions_mode=0o600,
        directory_permissions_mode=0o700,
    )


class Job(models.Model):
    """One background job of a kind (fleet/jobs/kinds.py), with what it was asked to do in `params`.

    `key` makes repeated requests harmless: only one open job has it. `attempt` counts the starts; an earlier attempt
    that was taken over can no longer write. A daily job has no `by`, and the day on which it was due.
    """

    class Stage(models.TextChoices):
        WAITING = "waiting", "Waiting"
        RUNNING = "running", "Running"
        DONE = "done", "Done"
        FAILED = "failed", "Failed"
        CANCELLED = "cancelled", "Cancelled"

    kind = models.SlugField(max_length=40, db_index=False)
    title = models.CharField(max_length=200)
    params = models.JSONField(default=dict)
    key = models.CharField(max_length=200)
    due_on = models.DateField(null=True, help_text="The date of a job that starts automatically.")
    by = models.ForeignKey(Person, models.CASCADE, null=True, related_name="jobs")
    asked_at = models.DateTimeField()
    stage = models.CharField(max_length=10, choices=Stage, default=Stage.WAITING)
    attempt = models.PositiveSmallIntegerField(default=0)
    started_at = models.DateTimeField(null=True)
    heartbeat_at = models.DateTimeField(
        null=True, help_text="The last heartbeat of the process that runs it, or the time when it was queued again."
    )
    finished_at = models.DateTimeField(null=True)
    cancel_asked_at = models.DateTimeField(null=True)
    cancel_asked_by = models.ForeignKey(Person, models.SET_NULL, null=True, related_name="+")
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0, help_text="0 while the total is not known.")
    words = models.CharField(max_length=200, blank=True, help_text="The present step.")
    result = models.CharField(max_length=500, blank=True, db_column="outcome", help_text="The result, in words.")
    link = models.CharField(max_length=300, blank=True, help_text="The address of the result.")
    file = models.FileField(storage=job_files, max_length=200, blank=True)
    file_name = models.CharField(max_length=120, blank=True, help_text="The name of the file for download.")
    error = models.TextField(blank=True, help_text="The fault, in plain words.")

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["key"], condition=Q(stage__in=OPEN_STAGES), name="job_key_once_while_open"),
            models.UniqueConstraint(fields=["kind", "due_on"], name="job_once_per_day_due"),
            models.CheckConstraint(
                condition=Q(stage__in=OPEN_STAGES, finished_at__isnull=True)
                | (~Q(stage__in=OPEN_STAGES) & Q(finished_at__isnull=False)),
                name="job_closed_has_time",
            ),
        ]
        indexes = [
            models.Index(fields=["stage", "asked_at"], name="job_by_stage"),
            models.Index(fields=["by", "asked_at"], name="job_by_person"),
        ]

    def __str__(self):
        return self.title

    def get_absolute_url(self):
        return key_address("fleet:job", self.pk)

    @property
    def is_open(self):
        return self.stage in OPEN_STAGES

    @property
    def is_stopping(self):
        return self.stage == self.Stage.RUNNING and self.cancel_asked_at is not None

    @property
    def can_be_retried(self):
        return self.by_id is not None and self.stage in (self.Stage.FAILED, self.Stage.CANCELLED)

    @property
    def percent(self):
        """Return the progress, 0 to 100; None while the total is not known."""
        return min(100, 100 * self.done // self.total) if self.total else None

    def is_left_waiting(self, now):
        """Return whether it has waited for longer than a running worker or scheduler takes to start it."""
        return self.stage == self.Stage.WAITING and now - self.asked_at > SOON_TAKEN_UP
