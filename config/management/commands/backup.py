"""Write a backup of the database and the files that matter, while Bobbin is in use."""

from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from config.backup import BackupError, write_backup


class Command(BaseCommand):
    help = (
        "Write a consistent backup to FILE, readable by its owner only, while Bobbin is in use. It holds the signing "
        "key and every record: protect it as you protect the database. Exit status: 0, or 2 if it could not be written."
    )

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path, metavar="FILE")

    def handle(self, *, file, **options):
        try:
            manifest = write_backup(file.absolute(), connection, settings.DATA_DIR, at=timezone.now())
        except BackupError as error:
            raise CommandError(str(error), returncode=2) from None
        rows = sum(table["rows"] for table in manifest.tables.values())
        size = file.stat().st_size / 1e6
        self.stdout.write(f"{file}: {rows:,} rows of {len(manifest.tables)} tables of {manifest.engine}, {size:.1f} MB")
        for chain in manifest.chains:
            self.stdout.write(f"  chain of {chain}")
