"""Errors of backup and restore."""


class BackupError(Exception):
    """A backup or restore that is refused; the message says what, with which file or database, and what to do."""


class ArchiveError(BackupError):
    """A backup file that cannot be read, or that differs from its manifest."""
