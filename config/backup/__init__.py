"""Backup, restore, and the drill that proves that a backup can be restored."""

from config.backup.archive import open_archive, write_archive
from config.backup.databases import settings_of_url, temporary_connection, temporary_database
from config.backup.errors import ArchiveError, BackupError
from config.backup.proof import Manifest, compare, manifest_of
from config.backup.work import restore_backup, write_backup

__all__ = [
    "ArchiveError",
    "BackupError",
    "Manifest",
    "compare",
    "manifest_of",
    "open_archive",
    "restore_backup",
    "settings_of_url",
    "temporary_connection",
    "temporary_database",
    "write_archive",
    "write_backup",
]
