from django.apps import AppConfig


class FleetConfig(AppConfig):
    name = "fleet"
    verbose_name = "Fleet"

    def ready(self):
        from django.db.models.signals import post_migrate, pre_migrate

        from fleet import tracked
        from fleet.circuits.covers import job as cover_job  # noqa: F401  importing a job declares it
        from fleet.circuits.covers import pairs  # noqa: F401
        from fleet.cover_report import job  # noqa: F401  importing a job declares it
        from fleet.forms.printable import guard_every_text_field
        from fleet.imports import jobs  # noqa: F401
        from fleet.journal.migrating import after_migrations, before_migrations
        from fleet.people import personal_data

        tracked.register()
        guard_every_text_field()
        personal_data.register()
        pre_migrate.connect(before_migrations, dispatch_uid="journal")
        post_migrate.connect(after_migrations, dispatch_uid="journal")
