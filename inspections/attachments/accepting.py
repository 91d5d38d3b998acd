"""Take a file from outside: photographs are made clean, everything else is looked at in a process of its own."""

from dataclasses import dataclass

from fleet.characters import printable
from fleet.confined import Busy, Exceeded, Limits, run_confined
from fleet.confined.limits import MIB, Turns
from fleet.errors import Refused
from fleet.photographs import PhotographRefused, PhotographsBusy, clean_photograph, digest_of_bytes
from fleet.photographs.file_beginnings import PHOTOGRAPHS, kind_of

LONGEST_NAME = 120
# A page waits for its file and holds a thread of the web server: one is looked at, two wait.
ONE_AT_A_TIME = Limits(15, 30.0, 512 * MIB, MIB, Turns(waiting=2, patience_s=6.0))


class FileRefused(Refused):
    """A file that is not stored. The message says what it is and what is accepted."""


class FilesBusy(FileRefused):
    """Too many files are being looked at; the same file can be sent again shortly."""


@dataclass(frozen=True, slots=True)
class AcceptedFile:
    """`content` is what is stored; `received_digest` the SHA-256 of what was sent, another one for a photograph."""

    content: bytes
    kind: str
    name: str
    received_digest: str

    @property
    def digest(self) -> str:
        return digest_of_bytes(self.content)

    @property
    def octets(self) -> int:
        return len(self.content)


def accepted_words(largest: int) -> str:
    """Say what is accepted, for a page and for a refusal."""
    return (
        "Accepted, whatever the file is called: PDF, photographs (JPEG, PNG, WebP), plain text, CSV and XLSX workbooks "
        f"of at most {largest / 1_000_000:g} MB, without scripts, macros, other files inside or a password."
    )


def accept_file(file, *, largest: int, name="", limits=ONE_AT_A_TIME) -> AcceptedFile:
    """Return the file as it is to be stored. Raise FileRefused, FilesBusy; nothing was stored then.

    file  bytes, or an uploaded file with `name`, `size` and `read`; one that is too large is not read
    """
    name = plain_name(name or getattr(file, "name", ""))
    called = f"“{name[:60]}”" if name else "The file"
    size = len(file) if isinstance(file, bytes) else file.size
    if size > largest:
        raise FileRefused(f"{called} has {size / 1_000_000:,.1f} MB, which is too much. {_nothing(largest)}")
    data = file if isinstance(file, bytes) else file.read()
    if not data:
        raise FileRefused(f"{called} is empty: it has no bytes. {_nothing(largest)}")
    received = digest_of_bytes(data)
    if kind_of(data) in PHOTOGRAPHS:
        return AcceptedFile(_photograph(data, name), "jpeg", name, received)
    found = _looked_at(data, called, largest, limits)
    if refused := found.get("refused"):
        raise FileRefused(f"{called} {refused}. {_nothing(largest)}")
    return AcceptedFile(data, found["kind"], name, received)


def plain_name(name: str) -> str:
    """Return the last part of a name as sent, without signs that do not show, cut to LONGEST_NAME characters.

    It is shown and never names anything on the disk.
    """
    last = str(name or "").replace("\\", "/").rsplit("/", 1)[-1]
    last = " ".join(printable(last).split()).strip(". ")
    if len(last) <= LONGEST_NAME:
        return last
    half = LONGEST_NAME // 2
    return f"{last[:half]}…{last[1 - half :]}"


def _photograph(data, name):
    try:
        return clean_photograph(data, name=name).content
    except PhotographsBusy as error:
        raise FilesBusy(str(error)) from None
    except PhotographRefused as error:
        raise FileRefused(str(error)) from None


def _looked_at(data, called, largest, limits):
    try:
        return run_confined("inspections.attachments.looking:look", data, limits=limits)
    except Busy:
        raise FilesBusy(_later(called)) from None
    except Exceeded as exceeded:
        if exceeded.what == f"{limits.wall_s:g} seconds":  # computing has a limit of its own: the server is busy
            raise FilesBusy(_later(called)) from None
        raise FileRefused(f"{called}: {exceeded} {_nothing(largest)}") from None
    except RuntimeError:
        raise FileRefused(f"{called} cannot be read. {_nothing(largest)}") from None


def _nothing(largest):
    return f"{accepted_words(largest)} Nothing was saved."


def _later(called):
    return f"Other files are being looked at at the moment. Send {called} again shortly. Nothing was saved."
