"""The kinds of background jobs. Each app declares its own; `ready` of its AppConfig imports them."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import BinaryIO

_kinds = {}


@dataclass(frozen=True, slots=True)
class Result:
    """The result of a job. `file` is open at any position; its download is named `name`; `link` is a local address."""

    words: str
    file: BinaryIO | None = None
    name: str = ""
    link: str = ""


@dataclass(frozen=True, slots=True)
class JobKind:
    """A kind of job. `permission` is needed to request it and to download its file; empty for daily jobs."""

    code: str
    label: str
    work: Callable
    permission: str = ""


def job_kind(code, label, *, permission=""):
    """Declare the decorated function as a kind of job. It takes a Run, and returns a Result or calls `run.finish`."""

    def declare(work):
        _kinds[code] = JobKind(code, label, work, permission)
        return work

    return declare


def get_kind(code):
    """Return the JobKind. Raise LookupError, which names the existing kinds."""
    try:
        return _kinds[code]
    except KeyError:
        raise LookupError(f"There is no kind of job “{code}”. Accepted: {', '.join(sorted(_kinds))}.") from None


def kind_label(code):
    """Return the name of a kind on pages; the code for a kind that this version no longer knows."""
    kind = _kinds.get(code)
    return kind.label if kind else code


def may_ask(person, code):
    """Return whether `person` may request this kind of job; nobody may for unknown and for daily kinds."""
    kind = _kinds.get(code)
    return bool(kind and kind.permission) and person.has_perm(kind.permission)
