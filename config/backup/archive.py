"""The backup file: a compressed tar with the manifest, the copy of the database, and files of DATA_DIR.

Readable by its owner only, since it holds every record and the signing key.
"""

import hashlib
import json
import os
import tarfile
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from config.backup.errors import ArchiveError, BackupError

MANIFEST = "manifest.json"
FILES = "files"
CHUNK = 1 << 20


def write_archive(path, folder, manifest):
    """Pack `folder` with the manifest into `path`; nothing is left there if it fails."""
    manifest = {**manifest, "parts": {name: digest_of_file(folder / name) for name in _names(folder)}}
    part = path.with_name(f"{path.name}.part")
    try:
        descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        os.fchmod(descriptor, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            _pack(file, folder, manifest)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    except OSError as error:
        raise BackupError(f"{path} cannot be written: {error.strerror}. Name another file.") from None
    finally:
        part.unlink(missing_ok=True)


def _pack(file, folder, manifest):
    (folder / MANIFEST).write_text(json.dumps(manifest, indent=1, ensure_ascii=False), encoding="utf-8")
    with tarfile.open(fileobj=file, mode="w:gz", compresslevel=5) as archive:
        for name in (MANIFEST, *manifest["parts"]):
            archive.add(folder / name, name, recursive=False)


def _names(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


@contextmanager
def open_archive(path):
    """Yield (folder, manifest) of an unpacked backup whose every part is as packed. Raise ArchiveError if not."""
    beside = path.parent if os.access(path.parent, os.W_OK) else None  # where there is room for it
    with TemporaryDirectory(prefix=".bobbin-restore-", dir=beside) as name:
        folder = Path(name)
        try:
            with tarfile.open(path, mode="r:gz") as archive:
                archive.extractall(folder, filter="data")
            manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
            parts = manifest["parts"]
        except (OSError, EOFError, tarfile.TarError, ValueError, KeyError) as error:
            raise ArchiveError(
                f"{path} cannot be read as a backup: {error}. Name a file that “backup” wrote."
            ) from None
        damaged = [part for part in parts if not _is_as_packed(folder, part, parts[part])]
        if damaged:
            raise ArchiveError(f"{path} is damaged: {', '.join(damaged)} is not as packed. Use another backup.")
        yield folder, manifest


def _is_as_packed(folder, part, digest):
    return (folder / part).is_file() and digest_of_file(folder / part) == digest


def digest_of_file(path):
    """SHA-256 of a file, read a part at a time."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while chunk := file.read(CHUNK):
            digest.update(chunk)
    return digest.hexdigest()
