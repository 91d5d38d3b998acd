"""Background jobs: who requested what, its progress and its result."""

from datetime import timedelta

from django.conf import settings
from django.core.files.storage import FileSystemStorage
from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.job_querysets import OPEN_STAGES, JobQuerySet
from fleet.models.people import Person

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
    """One background job of a kind (fleet/jobs/kinds.py), with its parameters in `params`.

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
    due_on = models.DateField(null=True, help_text="The day of work that runs by itself.")
    by = models.ForeignKey(Person, models.CASCADE, null=True, related_name="jobs")
    asked_at = models.DateTimeField()
    stage = models.CharField(max_length=10, choices=Stage, default=Stage.WAITING)
    attempt = models.PositiveSmallIntegerField(default=0)
    started_at = models.DateTimeField(null=True)
    heartbeat_at = models.DateTimeField(
        null=True, help_text="The last sign of life of whoever runs it, or when it was sent again."
    )
    finished_at = models.DateTimeField(null=True)
    cancel_asked_at = models.DateTimeField(null=True)
    cancel_asked_by = models.ForeignKey(Person, models.SET_NULL, null=True, related_name="+")
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0, help_text="0 while it is not known.")
    words = models.CharField(max_length=200, blank=True, help_text="What is being done.")
    outcome = models.CharField(max_length=500, blank=True, help_text="What came of it, in words.")
    link = models.CharField(max_length=300, blank=True, help_text="Where the result is seen.")
    file = models.FileField(storage=job_files, max_length=200, blank=True)
    file_name = models.CharField(max_length=120, blank=True, help_text="The name under which the file is sent.")
    error = models.TextField(blank=True, help_text="What went wrong, in plain words.")

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
        return reverse("fleet:job", args=[self.pk])

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
