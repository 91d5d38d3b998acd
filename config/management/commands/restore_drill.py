"""Prove that a backup can be restored: restore it into a database made for the purpose, and compare."""

from contextlib import nullcontext
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection, connections
from django.utils import timezone

from config.backup import (
    BackupError,
    compare,
    restore_backup,
    settings_of_url,
    temporary_connection,
    temporary_database,
    write_backup,
)
from inspections.chain.verification import Verification, verify_store


class Command(BaseCommand):
    help = (
        "Back up, restore into a temporary database, compare rows and digest of every table, and verify the chains of "
        "what was restored. Prints the comparison. Exit status: 0; 1 if anything differs; 2 if the drill "
        "cannot be done."
    )

    def add_arguments(self, parser):
        parser.add_argument("--backup", type=Path, metavar="FILE", help="drill with this backup; default: a new one")
        parser.add_argument("--into", metavar="URL", help="an empty database to use; default: a temporary one")

    def handle(self, *, backup, into, **options):
        try:
            with TemporaryDirectory(prefix=".bobbin-drill-", dir=settings.DATA_DIR) as folder:
                file = backup or self._back_up(Path(folder) / "drill.backup")
                own = (
                    nullcontext(settings_of_url(into)) if into else temporary_database(connections.settings["default"])
                )
                with own as target:
                    failures = self._drill(file, target, Path(folder) / "files")
        except BackupError as error:
            raise CommandError(str(error), returncode=2) from None
        if failures:
            raise CommandError("The drill failed:\n" + "\n".join(failures), returncode=1)
        self.stdout.write("Passed: every row of the backup was restored, and its chains verify.")

    def _back_up(self, file):
        write_backup(file, connection, settings.DATA_DIR, at=timezone.now())
        return file

    def _drill(self, file, target, data_dir):
        expected, found = restore_backup(file, target, data_dir)
        self.stdout.write(f"{'Table':<40} {'Rows':>9}  {'In the backup':<16} Restored")
        for name, table in expected.tables.items():
            now = found.tables.get(name, {"sha256": "missing"})
            self.stdout.write(f"{name:<40} {table['rows']:>9,}  {table['sha256'][:16]} {now['sha256'][:16]}")
        failures = compare(expected, found)
        seen = Verification()
        with temporary_connection(target) as restored:
            call_command("migrate", database=restored.alias, verbosity=0, interactive=False)
            troubles = [str(trouble) for trouble in verify_store(seen=seen, using=restored.alias)]
        self.stdout.write(f"{seen.records:,} records, {seen.entries:,} entries of {len(seen.sites)} chains verified")
        self.stdout.write(f"{seen.rows:,} rows, {seen.links:,} links of the journal verified")
        return failures + troubles
