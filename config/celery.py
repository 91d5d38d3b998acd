"""The Celery application: background jobs go to a worker where REDIS_URL names a broker (fleet/jobs)."""

import os

from celery import Celery

from config.private_files import UMASK

os.umask(UMASK)
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("bobbin")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["fleet.jobs"])
# fleet/jobs/periodic.py holds the times of daily jobs, for beat and for the scheduler without a broker.
app.conf.beat_schedule = {
    "look after background jobs": {"task": "fleet.jobs.tasks.sweep_jobs", "schedule": 60.0, "options": {"expires": 55}}
}
