"""The app that composes the others: it may import both apps, neither may import it."""

from django.apps import AppConfig


class BobbinConfig(AppConfig):
    name = "config"
    label = "bobbin"

    def ready(self):
        from config.startup import start  # imports models, which can be imported only once the apps are loaded

        start()
