"""Who is locked out after repeated wrong passwords, and until when. The counting is django-axes'."""

from datetime import timedelta

from axes.models import AccessAttempt
from axes.utils import reset
from django.conf import settings
from django.db.models import Max, Sum


def locked_until(usernames, now):
    """Map those of `usernames` that are locked out at `now` to the moment when that ends; one query."""
    pause = timedelta(minutes=settings.LOCKOUT_MINUTES)
    wrong = AccessAttempt.objects.filter(username__in=usernames, attempt_time__gte=now - pause)
    counted = wrong.values("username").order_by().annotate(n=Sum("failures_since_start"), last=Max("attempt_time"))
    return {row["username"]: row["last"] + pause for row in counted.filter(n__gte=settings.AXES_FAILURE_LIMIT)}


def forget_wrong_passwords(username):
    """Start counting anew, which ends a lockout."""
    reset(username=username)
