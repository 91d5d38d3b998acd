"""The signing key of a small installation that sets no SECRET_KEY of its own."""

import os
from pathlib import Path
from tempfile import mkstemp

from django.core.exceptions import ImproperlyConfigured
from django.core.management.utils import get_random_secret_key


def local_secret_key(data_dir: Path) -> str:
    """Return the key stored in ``data_dir/secret_key``, created at the first call and readable by its owner only.

    Raises ImproperlyConfigured for a file that holds no key.
    """
    path = data_dir / "secret_key"
    if not path.exists():
        data_dir.mkdir(parents=True, exist_ok=True, mode=0o700)
        _write_once(path, get_random_secret_key())
    key = path.read_text(encoding="utf-8", errors="replace").strip()
    if not key:
        raise ImproperlyConfigured(f"{path} is empty. Put the key of this installation back from a backup.")
    return key


def _write_once(path: Path, key: str) -> None:
    """Write the whole file under another name first, so that another process never reads half a key."""
    descriptor, name = mkstemp(prefix=".secret_key-", dir=path.parent)  # readable by its owner only
    try:
        with os.fdopen(descriptor, "w", encoding="ascii") as file:
            file.write(key)
        os.link(name, path)
    except FileExistsError:
        pass  # another process was first: its key counts
    finally:
        os.unlink(name)
