"""The kinds of long work. Each app declares its own; `ready` of its AppConfig imports them."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import BinaryIO

_kinds = {}


@dataclass(frozen=True, slots=True)
class Result:
    """What came of a job. `file` is open at any position, and sent under `name`; `link` is an address on this site."""

    words: str
    file: BinaryIO | None = None
    name: str = ""
    link: str = ""


@dataclass(frozen=True, slots=True)
class JobKind:
    """A kind of work. `permission` is what asking for it, and fetching its file, needs; empty for work by itself."""

    code: str
    label: str
    work: Callable
    permission: str = ""


def job_kind(code, label, *, permission=""):
    """Declare the decorated function of a Run, which returns a Result or has called `run.finish`, as a kind of work."""

    def declare(work):
        _kinds[code] = JobKind(code, label, work, permission)
        return work

    return declare


def get_kind(code):
    """Return the JobKind. Raise LookupError that names the kinds there are."""
    try:
        return _kinds[code]
    except KeyError:
        raise LookupError(f"No kind of job is called “{code}”. There are: {', '.join(sorted(_kinds))}.") from None
