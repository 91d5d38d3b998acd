"""The kinds of background jobs. Each app declares its own; `ready` of its AppConfig imports them."""

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
        raise LookupError(f"There is no kind of job “{code}”. Accepted: {', '.join(sorted(_kinds))}.") from None


def kind_label(code):
    """What a kind is called on pages; a kind that this version no longer knows goes by its code."""
    kind = _kinds.get(code)
    return kind.label if kind else code


def may_ask(person, code):
    """Whether `person` may ask for work of this kind; nobody for a kind that is not known or runs by itself."""
    kind = _kinds.get(code)
    return bool(kind and kind.permission) and person.has_perm(kind.permission)
