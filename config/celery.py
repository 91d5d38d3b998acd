"""The Celery application: tasks run in the calling process unless REDIS_URL names a broker."""

import os

from celery import Celery
from celery.schedules import crontab

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("bobbin")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
app.conf.beat_schedule = {
    "plan what falls due": {"task": "inspections.tasks.plan_due", "schedule": crontab(hour=3, minute=0)}
}
