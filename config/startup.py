"""What the composition sets up when the program starts. Importing the jobs declares them."""

import logging

from axes.models import AccessAttempt
from celery.signals import setup_logging
from django.conf import settings
from django.contrib.auth.signals import user_logged_in
from django.db.models.signals import post_migrate, pre_save

from config import digest, pruning  # noqa: F401
from config.accounts.attempts import forget_what_was_sent
from config.accounts.sessions import begin_session
from config.groups import sync_groups
from config.private_files import keep_private


def start():
    keep_private(settings.DATA_DIR, settings.DATABASES["default"])
    post_migrate.connect(sync_groups, dispatch_uid="bobbin-groups")
    user_logged_in.connect(begin_session, dispatch_uid="bobbin-session")
    pre_save.connect(forget_what_was_sent, sender=AccessAttempt, dispatch_uid="bobbin-attempts")
    if settings.LOG_FORMAT == "json":
        setup_logging.connect(keep_lines, dispatch_uid="bobbin-lines")
        logging.captureWarnings(True)


def keep_lines(**kwargs):
    """Do nothing: Celery sets up logs of its own only where nobody listens to this signal."""
