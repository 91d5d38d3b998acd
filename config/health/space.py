"""How much space is left on the disks with Bobbin's data."""

import shutil
from pathlib import Path

from django.conf import settings
from django.db import connection

MB = 1024 * 1024


def folders() -> list[Path]:
    """Return the folder of generated files and, on SQLite, that of the database."""
    found = [Path(settings.DATA_DIR)]
    name = connection.settings_dict["NAME"]
    if connection.vendor == "sqlite" and not connection.is_in_memory_db():
        found.append(Path(name).absolute().parent)
    return list(dict.fromkeys(found))


def least_free_mb() -> int:
    return min(shutil.disk_usage(folder).free for folder in folders()) // MB
