"""The composition: it may import both apps, neither may import it."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class BobbinConfig(AppConfig):
    name = "config"
    label = "bobbin"

    def ready(self):
        from config.groups import sync_groups

        post_migrate.connect(sync_groups, dispatch_uid="bobbin-groups")
