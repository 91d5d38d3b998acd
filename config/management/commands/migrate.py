"""Make or change the tables: the only command, beside restore, that creates the file of a SQLite database."""

from django.conf import settings
from django.core.management.commands.migrate import Command as Migrate

from config.database import new_file_allowed


class Command(Migrate):
    def execute(self, *args, **options):
        if options["check_unapplied"] or options["plan"]:
            return super().execute(*args, **options)
        settings.DATA_DIR.mkdir(parents=True, exist_ok=True, mode=0o700)
        with new_file_allowed():
            return super().execute(*args, **options)
