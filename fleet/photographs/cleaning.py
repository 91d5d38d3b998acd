"""Read a photograph from outside in a process of its own and return it clean, or say why it is refused."""

import hashlib
from dataclasses import dataclass

from fleet.characters import printable
from fleet.confined import Busy, Exceeded, Limits, run_confined
from fleet.confined.limits import MIB, Turns
from fleet.errors import Refused
from fleet.photographs.file_beginnings import HEIC, PHOTOGRAPHS, kind_of
from fleet.photographs.reencoding import MOST_PIXELS, MOST_SIDE

LARGEST_BYTES = 15 * 1000 * 1000
LONGEST_NAME = 60
ACCEPTED = (
    f"Accepted: a photograph as JPEG, PNG or WebP of at most {LARGEST_BYTES // 1_000_000} MB, {MOST_SIDE:,} pixels on "
    f"a side and {MOST_PIXELS // 1_000_000} million pixels. Nothing was saved."
)
SET_THE_CAMERA = (
    "Set the camera to JPEG (iPhone and iPad: Settings, Camera, Formats, “Most Compatible”) and take it again, or save "
    "the picture as JPEG."
)
# A page waits for its photograph and holds one of the threads of the web server: one is read, three wait.
ONE_AT_A_TIME = Limits(10, 30.0, 640 * MIB, 16 * MIB, Turns(waiting=3, patience_s=6.0))


class PhotographRefused(Refused):
    """A file that is not accepted as a photograph. The message says what it is and what is accepted."""


class PhotographsBusy(PhotographRefused):
    """Too many photographs are being read at the moment; the same file can be sent again shortly."""


@dataclass(frozen=True, slots=True)
class CleanPhotograph:
    """A JPEG of at most 2,000 pixels on the longer side, upright, without metadata, and a preview of at most 640."""

    content: bytes
    width: int
    height: int
    preview: bytes

    @property
    def digest(self) -> str:
        """The SHA-256 of the JPEG, in hexadecimal digits."""
        return digest_of_bytes(self.content)

    @property
    def preview_digest(self) -> str:
        return digest_of_bytes(self.preview)

    @property
    def octets(self) -> int:
        return len(self.content)


def clean_photograph(file, *, name="", limits=ONE_AT_A_TIME) -> CleanPhotograph:
    """Return the photograph in a file; the original is not stored anywhere.

    file  bytes, or an uploaded file with `name`, `size` and `read`
    name  what the file is called, for the sentence; a file that has a name needs none

    Raise PhotographRefused, PhotographsBusy.
    """
    called = _called(name or getattr(file, "name", ""))
    data = _content(file, called)
    kind = kind_of(data)
    if kind not in PHOTOGRAPHS:
        raise PhotographRefused(f"{called} {_what_it_is(data, kind)} {ACCEPTED}")
    found = _reencoded(data, called, limits)
    if refused := found.pop("refused", ""):
        raise PhotographRefused(f"{called} {refused}. {ACCEPTED}")
    return CleanPhotograph(**found)


def digest_of_bytes(data) -> str:
    return hashlib.sha256(data).hexdigest()


def _called(name):
    name = " ".join(printable(str(name or "")).split())
    if len(name) > LONGEST_NAME:
        name = f"{name[: LONGEST_NAME // 2]}…{name[-LONGEST_NAME // 2 + 1 :]}"
    return f"“{name}”" if name else "The file"


def _content(file, called):
    size = len(file) if isinstance(file, bytes) else file.size
    if size > LARGEST_BYTES:
        raise PhotographRefused(f"{called} has {size / 1_000_000:.1f} MB, which is too much. {ACCEPTED}")
    return file if isinstance(file, bytes) else file.read()


def _what_it_is(data, kind):
    if not data:
        return "is empty: it has no bytes."
    if kind == HEIC:
        return f"is {kind}, which is not accepted. {SET_THE_CAMERA}"
    return f"is {kind}, not a photograph." if kind else "is not a photograph: its content is of no known kind."


def _reencoded(data, called, limits):
    try:
        return run_confined("fleet.photographs.reencoding:reencode", data, limits=limits)
    except Busy:
        raise PhotographsBusy(_later(called)) from None
    except Exceeded as exceeded:
        if exceeded.what == f"{limits.wall_s:g} seconds":  # a file has its own limit of computing: the server is busy
            raise PhotographsBusy(_later(called)) from None
        raise PhotographRefused(f"{called}: {exceeded} {ACCEPTED}") from None
    except RuntimeError:
        raise PhotographRefused(f"{called} cannot be read as a photograph. {ACCEPTED}") from None


def _later(called):
    return f"Other photographs are being read at the moment. Send {called} again shortly. Nothing was saved."
