"""The files of an installation are readable by their owner only."""

import os
from pathlib import Path

UMASK = 0o077
DATABASE_FILES = ("", "-wal", "-shm", "-journal")
OF_AN_INSTALLATION = ("secret_key", "bobbin.sqlite3", "jobs")


def keep_private(data_dir, database):
    """Remove the rights of others on DATA_DIR, its key, its job files and the SQLite database.

    data_dir  left alone unless it holds files that Bobbin made: it may be mistyped
    database  settings of the database; a database server is left alone
    """
    if any((data_dir / name).exists() for name in OF_AN_INSTALLATION):
        _narrow(data_dir, 0o700)
    jobs = data_dir / "jobs"
    _narrow(jobs, 0o700)
    for path in (data_dir / "secret_key", *_database_files(database), *(_entries(jobs))):
        _narrow(path, 0o600)


def _database_files(database):
    if not database["ENGINE"].endswith("sqlite3"):
        return []
    return [Path(f"{database['NAME']}{ending}") for ending in DATABASE_FILES]


def _entries(folder):
    try:
        return [Path(entry.path) for entry in os.scandir(folder) if entry.is_file(follow_symlinks=False)]
    except OSError:
        return []


def _narrow(path, mode):
    """Set the mode of a path that has more rights than `mode`, unless it belongs to another owner."""
    try:
        found = path.lstat()
        is_ours = found.st_uid == os.geteuid() and not path.is_symlink()
        if is_ours and found.st_mode & 0o777 & ~mode:
            path.chmod(found.st_mode & mode)
    except OSError:
        pass  # missing, or removed meanwhile; or the file system has no rights
