"""Private links by which a calendar program reads the bookings of a technician or an area."""

from django.db import models
from django.db.models import Q

from fleet.models import Area, Person
from inspections.models.inspections import Inspection
from inspections.models.querysets.calendars import CalendarFeedQuerySet


class CalendarFeed(models.Model):
    """One link. Only the SHA-256 of its code is stored, so the link is shown once; it can be withdrawn at any time."""

    person = models.ForeignKey(Person, models.CASCADE, null=True, blank=True, related_name="calendar_feeds")
    area = models.ForeignKey(Area, models.PROTECT, null=True, blank=True, related_name="+")
    digest = models.CharField(max_length=64, unique=True)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)

    objects = CalendarFeedQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(person__isnull=False, area__isnull=True) | Q(person__isnull=True, area__isnull=False),
                name="calendar_feed_of_person_or_area",
            )
        ]

    def __str__(self):
        return f"Calendar link of {self.person or self.area}"


class FeedEvent(models.Model):
    """What a feed last said of an inspection, so that a move and a cancellation raise its SEQUENCE (RFC 5545)."""

    feed = models.ForeignKey(CalendarFeed, models.CASCADE, related_name="events")
    inspection = models.ForeignKey(Inspection, models.CASCADE, related_name="+")
    starts_at = models.DateTimeField()
    minutes = models.PositiveSmallIntegerField()
    sequence = models.PositiveIntegerField(default=0)
    is_cancelled = models.BooleanField(default=False)
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["feed", "inspection"], name="feed_event_once")]

    def __str__(self):
        return f"Event of {self.inspection_id}"
