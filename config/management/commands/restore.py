"""Restore a backup into a database."""

from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection, connections

from config.backup import BackupError, compare, restore_backup, settings_of_url


class Command(BaseCommand):
    help = (
        "Restore FILE into a database and compare every table with the backup. Refuses a database that holds tables, "
        "unless --replace is given. Exit status: 0; 1 if the restored data differ; 2 if nothing was restored."
    )
    requires_system_checks = []

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument("--into", metavar="URL", help="the database, as DATABASE_URL; default: the configured one")
        parser.add_argument(
            "--replace", action="store_true", help="delete the present contents of the database and the files"
        )
        parser.add_argument(
            "--data-dir", type=Path, help="folder for the files; default: DATA_DIR if --into is not given"
        )
        parser.add_argument("--no-files", action="store_true", help="restore the database only")

    def handle(self, *, file, into, replace, data_dir, no_files, **options):
        if data_dir is None and into is None:
            data_dir = settings.DATA_DIR
        try:
            target = settings_of_url(into) if into else dict(connections.settings["default"])
            connection.close()
            expected, found = restore_backup(file, target, None if no_files else data_dir, replace=replace)
        except BackupError as error:
            raise CommandError(str(error), returncode=2) from None
        if differences := compare(expected, found):
            raise CommandError("Restored, but the data differ:\n" + "\n".join(differences), returncode=1)
        rows = sum(table["rows"] for table in found.tables.values())
        self.stdout.write(f"{rows:,} rows of {len(found.tables)} tables restored, each table as in the backup.")
        if missing := expected.missing_migrations:
            self.stdout.write(
                f"It was made by an older version: run manage.py migrate now ({len(missing)} migrations)."
            )
        self.stdout.write("Then run manage.py verify_records.")
