"""The composition: it may import both apps, neither may import it."""

from celery.signals import setup_logging
from django.apps import AppConfig
from django.conf import settings
from django.db.models.signals import post_migrate


class BobbinConfig(AppConfig):
    name = "config"
    label = "bobbin"

    def ready(self):
        from config import digest  # noqa: F401  importing it declares its job
        from config.groups import sync_groups

        post_migrate.connect(sync_groups, dispatch_uid="bobbin-groups")
        if settings.LOG_FORMAT == "json":
            setup_logging.connect(keep_lines, dispatch_uid="bobbin-lines")


def keep_lines(**kwargs):
    """Being there is all: Celery sets up logs of its own only where nobody listens to this signal."""
