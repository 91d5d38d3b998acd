"""The backup file: a compressed tar with the manifest, the copy of the database, and files of DATA_DIR.

Readable by its owner only, since it holds every record and the signing key.
"""

import hashlib
import json
import os
import re
import tarfile
import zlib
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from config.backup.errors import ArchiveError, BackupError

MANIFEST = "manifest.json"
FILES = "files"
CHUNK = 1 << 20
LARGEST_MANIFEST = 16 << 20
# The copy of the database, the key, and the files of jobs: nothing else is written into DATA_DIR.
PART = re.compile(r"database\.(sqlite3|dump)|files/secret_key|files/jobs/[^/\\\0]+")


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
    """Yield (folder, manifest) of an unpacked backup that equals its manifest. Raise ArchiveError for any other."""
    beside = path.parent if os.access(path.parent, os.W_OK) else None  # unpacked where there is space for it
    with TemporaryDirectory(prefix=".bobbin-restore-", dir=beside) as name:
        folder = Path(name)
        manifest = _unpack(path, folder)
        parts = manifest["parts"]
        damaged = [part for part in parts if not _is_as_packed(folder, part, parts[part])]
        if damaged:
            raise ArchiveError(
                f"{path} is damaged: {', '.join(damaged)} does not match its digest. Use another backup."
            )
        yield folder, manifest


def _unpack(path, folder):
    try:
        with tarfile.open(path, mode="r:gz") as archive:
            first = archive.next()
            if first is None or first.name != MANIFEST or not first.isfile() or first.size > LARGEST_MANIFEST:
                raise ValueError(f"it does not begin with {MANIFEST}")
            manifest = json.loads(archive.extractfile(first).read())
            _refuse_other_members(first, archive, manifest)
            while archive.fileobj.read(CHUNK):
                pass  # read to the end, where the compressed file has its checksum
            archive.extractall(folder, filter="data")
        return manifest
    except (OSError, EOFError, zlib.error, tarfile.TarError, ValueError, RecursionError) as error:
        raise ArchiveError(f"{path} cannot be read as a backup: {error}. Name a file that “backup” wrote.") from None


def _refuse_other_members(first, archive, manifest):
    """Raise ValueError unless the archive holds exactly the files of its manifest, all of a type that we write."""
    parts = manifest.get("parts") if isinstance(manifest, dict) else None
    if not isinstance(parts, dict) or not all(isinstance(digest, str) for digest in parts.values()):
        raise ValueError(f"{MANIFEST} names no contents")
    held = [member for member in archive if member is not first]
    strange = [member.name for member in held if not member.isfile() or not PART.fullmatch(member.name)]
    names = [member.name for member in held]
    if strange or sorted(names) != sorted(parts):
        odd = strange or sorted(set(names) ^ set(parts)) or names
        raise ValueError(f"it does not contain what {MANIFEST} names: {', '.join(odd[:3])}")


def _is_as_packed(folder, part, digest):
    return (folder / part).is_file() and digest_of_file(folder / part) == digest


def digest_of_file(path):
    """Return the SHA-256 of a file, read in chunks."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while chunk := file.read(CHUNK):
            digest.update(chunk)
    return digest.hexdigest()
