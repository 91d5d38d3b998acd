"""Seals: a line for each site that names its newest entry, one for the journal, kept outside Bobbin by the department.

A later verification must find every sealed entry as it was. That shows the removal of the newest records, and the
rewriting of a whole chain, up to the moment of the seal.
"""

import re
from dataclasses import dataclass
from datetime import datetime

from inspections.chain.journal import CODE, JOURNAL, journal_head
from inspections.errors import Refused
from inspections.models import ChainHead

LINE = re.compile(r"bobbin-seal 1 site=(\d+) code=([\w-]+) entry=(\d+) sha256=([0-9a-f]{64}) at=(\S+)")
FORM = "bobbin-seal 1 site=NUMBER code=CODE entry=NUMBER sha256=64 DIGITS at=TIME"


class SealError(Refused):
    """A seal file that cannot be read; says which line and what a line looks like."""


@dataclass(frozen=True, slots=True)
class Seal:
    """The newest entry of a site when the seal was made; `at` is when that entry was added, ISO text.

    The newest link of the journal is sealed as that of site 0.
    """

    site: int
    code: str
    sequence: int
    digest: str
    at: str

    def __str__(self):
        return (
            f"bobbin-seal 1 site={self.site} code={self.code} entry={self.sequence} sha256={self.digest} at={self.at}"
        )


def seal_of(head):
    """The seal of one head, with its site at hand."""
    at = head.at.isoformat(timespec="seconds") if head.at else "-"
    return Seal(head.site_id, head.site.code, head.sequence, head.digest, at)


def seals_of(sites=None, *, with_journal=True):
    """The seals of these sites, of all when None, by the code of the site; a site without an entry has none."""
    heads = ChainHead.objects.filter(sequence__gt=0).select_related("site").order_by("site__code")
    seals = [seal_of(head) for head in (heads if sites is None else heads.filter(site__in=sites))]
    newest = journal_head() if with_journal else None
    return [*seals, seal_of_journal(newest)] if newest else seals


def seal_of_journal(head):
    return Seal(JOURNAL, CODE, head.sequence, head.digest, head.recorded_at.isoformat(timespec="seconds"))


def read_seals(text):
    """Return the seals of a file; empty lines and lines that begin with # are passed over. Raises SealError."""
    seals = []
    for number, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1):
        line = line.strip()
        if not line or line.startswith("#"):
            continue
        match = LINE.fullmatch(line)
        if match is None or not _is_moment(match[5]):
            raise SealError(f"Line {number} is not a seal: “{line[:80]}”. The form of a seal is: {FORM}")
        seals.append(Seal(int(match[1]), match[2], int(match[3]), match[4], match[5]))
    if not seals:
        raise SealError(f"The file holds no seal. The form of a seal is: {FORM}")
    return seals


def _is_moment(text):
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True
