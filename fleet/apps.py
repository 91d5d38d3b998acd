from django.apps import AppConfig


class FleetConfig(AppConfig):
    name = "fleet"
    verbose_name = "Fleet"

    def ready(self):
        from fleet.startup import start  # imports models, which can be imported only once the apps are loaded

        start()
