"""Work that runs by itself: a Celery worker does it where there is one, else the calling process."""

from celery import shared_task
from django.utils import timezone

from inspections.actions import plan_due_inspections


@shared_task
def plan_due():
    """Plan what falls due. Safe to repeat: a machine with an open inspection of a procedure gets no second one."""
    return plan_due_inspections(today=timezone.localdate(), at=timezone.now())
