"""The signing key of a small installation that sets no SECRET_KEY of its own."""

import os
from pathlib import Path

from django.core.management.utils import get_random_secret_key


def local_secret_key(data_dir: Path) -> str:
    """Return the key kept in ``data_dir/secret_key``, made at the first call and readable by its owner only."""
    path = data_dir / "secret_key"
    data_dir.mkdir(parents=True, exist_ok=True)
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text(encoding="ascii")
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        file.write(get_random_secret_key())
    return path.read_text(encoding="ascii")
