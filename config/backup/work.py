"""Write a backup and restore one."""

import shutil
from dataclasses import asdict
from pathlib import Path
from tempfile import TemporaryDirectory

from config.backup.archive import FILES, open_archive, write_archive
from config.backup.databases import check_copy, copy_in, copy_out, temporary_connection
from config.backup.errors import BackupError
from config.backup.proof import Manifest, manifest_of
from fleet.management.database_check import require_sound_database

KEPT = ("secret_key", "jobs")  # of DATA_DIR: the signing key, and files that jobs made
FORMAT = 1


def write_backup(path, connection, data_dir, *, at):
    """Back up the database behind `connection` and the files of `data_dir` to `path`. Return the manifest.

    Raises BackupError, or DatabaseUnusable for a damaged or empty database, and leaves nothing at `path` then.
    """
    if path.exists():
        raise BackupError(f"{path} exists already. Name a new file, or move that one.")
    if not path.parent.is_dir():
        raise BackupError(f"{path.parent} is no folder. Make it first.")
    require_sound_database(connection.alias)
    with TemporaryDirectory(prefix=".bobbin-backup-", dir=path.parent) as name:
        folder = Path(name)
        manifest = copy_out(connection, folder)
        for kept in KEPT:
            _copy_files(data_dir / kept, folder / FILES / kept)
        write_archive(path, folder, {"format": FORMAT, "made_at": at.isoformat(), **asdict(manifest)})
    return manifest


def restore_backup(path, settings, data_dir=None, *, replace=False):
    """Restore a backup into the database that `settings` names, and its files into `data_dir` unless None.

    Return (expected, found): the manifest of the backup and that of the restored database. Raises BackupError.
    """
    with open_archive(path) as (folder, told):
        if told.get("format") != FORMAT:
            raise BackupError(f"{path} has format {told.get('format')}; this version restores format {FORMAT}.")
        expected = Manifest.of_archive(told)
        _refuse_newer(path, expected)
        check_copy(folder, expected)
        if data_dir is not None:
            _refuse_existing(folder / FILES, data_dir, replace)
            data_dir.mkdir(parents=True, exist_ok=True, mode=0o700)
        copy_in(folder, expected.engine, settings, replace=replace)
        if data_dir is not None:
            _copy_files(folder / FILES, data_dir)
    with temporary_connection(settings) as connection:
        return expected, manifest_of(connection)


def _refuse_newer(path, expected):
    if unknown := expected.unknown_migrations:
        raise BackupError(
            f"{path} was made by a newer version of Bobbin: this one does not know {', '.join(unknown[:3])}. "
            "Restore it with that version or a newer one."
        )


def _refuse_existing(source, target, replace):
    there = [path for path in source.rglob("*") if path.is_file() and (target / path.relative_to(source)).exists()]
    changed = [path for path in there if path.read_bytes() != (target / path.relative_to(source)).read_bytes()]
    if changed and not replace:
        names = ", ".join(str(path.relative_to(source)) for path in changed[:5])
        raise BackupError(f"{target} holds other files of the same name: {names}. Add --replace, or --no-files.")


def _copy_files(source, target):
    """Copy a file or a folder with what is in it, for its owner only; nothing if there is none."""
    if source.is_dir():
        for path in sorted(source.iterdir()):
            _copy_files(path, target / path.name)
    elif source.is_file():
        target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        shutil.copy2(source, target)
        target.chmod(0o600)
