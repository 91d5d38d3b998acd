from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"
    verbose_name = "Inspections"

    def ready(self):
        from inspections.startup import start  # imports models, which can be imported only once the apps are loaded

        start()
