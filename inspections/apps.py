from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"
    verbose_name = "Inspections"

    def ready(self):
        from inspections import jobs, panels, personal_data, tracked  # noqa: F401  importing the jobs declares them

        panels.register()
        tracked.register()
        personal_data.register()
