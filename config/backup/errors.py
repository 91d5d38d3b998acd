"""What backup and restore refuse."""


class BackupError(Exception):
    """Says what cannot be done, with what, and what to do."""


class ArchiveError(BackupError):
    """A backup file that cannot be read, or whose parts are not as its manifest says."""
