"""The Celery application: tasks run in the calling process unless REDIS_URL names a broker."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("bobbin")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
