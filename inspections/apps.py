from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"
    verbose_name = "Inspections"

    def ready(self):
        from fleet.journal.watching import watch
        from inspections import jobs, personal_data, tracked  # noqa: F401  importing the jobs declares them
        from inspections.on_machine_page import panels

        panels.register()
        tracked.register()
        personal_data.register()
        watch()  # last, since only now all models are known and what is left out is declared
