"""Verify the chains and the journal: every entry against the one before it, every row against its entry.

In bounded memory, whatever the size of the store.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice

from django.db.models import Q

from fleet.models import Site
from inspections.chain.against import against_entry, digest_now, read_batch, says_of
from inspections.chain.attached_files import against_attachments
from inspections.chain.entries import FIRST
from inspections.chain.fault_photographs import against_fault_photographs
from inspections.chain.journal import JOURNAL, verify_journal
from inspections.chain.moments import out_of_order
from inspections.chain.outside import against_chain
from inspections.chain.pictures import against_photographs
from inspections.chain.trouble import Trouble, shown
from inspections.models import Attachment, ChainEntry, ChainHead, Photograph

BATCH = 100


@dataclass(slots=True)
class Verification:
    """What was looked at so far; read it after the troubles have been taken.

    entries, records  of the chains of the sites; links, rows  of the journal
    """

    entries: int = 0
    records: int = 0
    links: int = 0
    rows: int = 0
    sites: list[str] = field(default_factory=list)


def verify_store(*, sites=None, seals=(), seen=None, using="default") -> Iterator[Trouble]:
    """Yield everything in the store that is not as it was signed, site by site.

    sites  those to verify, all when None; seals  what a department kept, see inspections.chain.seals
    seen   a Verification that counts what was looked at
    """
    seen = seen or Verification()
    chosen = Site.objects.using(using).order_by("code") if sites is None else list(sites)
    for site in chosen:
        seen.sites.append(site.code)
        yield from verify_part(site, seen=seen, using=using)
        yield from against_seals(site, [seal for seal in seals if seal.site == site.pk], using=using)
    if sites is None:
        known = set(Site.objects.using(using).values_list("pk", flat=True))
        for seal in seals:
            if seal.site not in known and seal.site != JOURNAL:
                yield Trouble("removed", seal.code, "the site that a seal names", sequence=seal.sequence)
    yield from against_chain(None if sites is None else chosen, using=using)
    yield from against_fault_photographs(sites=None if sites is None else chosen, using=using)
    yield from _against_files(sites, using)
    yield from verify_journal(seen, sites=None if sites is None else chosen, seals=seals, using=using)


def _against_files(sites, using):
    """Photographs and attached files. Those of no site, such as of a procedure, are looked at with all sites only."""
    photographs, attachments = Photograph.objects.using(using), Attachment.objects.using(using)
    yield from against_photographs(photographs if sites is None else photographs.at(sites))
    yield from against_attachments(attachments if sites is None else attachments.at(sites))


def verify_part(site, *, first=1, last=None, seen=None, using="default") -> Iterator[Trouble]:
    """Yield what is wrong with the entries `first` to `last` of a site; with no `last` up to the head, and the head."""
    seen = seen or Verification()
    chain = ChainEntry.objects.using(using).filter(site=site.pk).order_by("sequence")
    before = chain.filter(sequence=first - 1).first()
    walk = _Walk(site, first, before)
    part = chain.filter(sequence__gte=first)
    entries = (part if last is None else part.filter(sequence__lte=last)).iterator(BATCH)
    while batch := list(islice(entries, BATCH)):
        read = read_batch(batch, using=using)
        seen.entries += len(batch)
        seen.records += sum(entry.kind == "signed" for entry in batch)
        for entry in batch:
            yield from walk.step(entry)
            yield from against_entry(site, entry, read)
    yield from walk.end(last, ChainHead.objects.using(using).filter(site=site.pk).first())


class _Walk:
    """Goes along a chain and holds what the entry before was, as stored and as computed."""

    def __init__(self, site, first, before):
        self.site = site
        self.number = first - 1
        self.digests = {FIRST} if first == 1 else _digests(before) if before else set()
        self.newest = before

    def step(self, entry):
        yield from self._gap(entry.sequence)
        if self.digests and entry.previous not in self.digests:
            yield self._trouble(
                "altered", f"{entry.kind} entry", "previous", min(self.digests), entry.previous, entry.sequence,
                entry.inspection_id,
            )  # fmt: skip
        for expected, column, found in out_of_order(self.newest and says_of(self.newest), says_of(entry)):
            yield self._trouble(
                "time", f"{entry.kind} entry out of time order", column, expected, found, entry.sequence,
                entry.inspection_id,
            )  # fmt: skip
        self.number, self.digests, self.newest = entry.sequence, _digests(entry), entry

    def end(self, last, head):
        """What is missing up to `last`, and at the end of the chain the head against the newest entry."""
        if last is not None and head is not None and last < head.sequence:
            yield from self._gap(last + 1)
            return
        if head is None:
            if self.newest is not None:
                yield self._trouble("removed", "the head of the chain")
            return
        if head.sequence > self.number:
            yield from self._gap(head.sequence + 1)
            return
        yield from self._against_head(head)

    def _against_head(self, head):
        if head.sequence < self.number:
            newest = self.newest
            yield self._trouble(
                "altered", "entries after the head of the chain: inserted, or the head was set back", "sequence",
                head.sequence, self.number, self.number, newest.inspection_id if newest else None,
            )  # fmt: skip
            return
        if head.digest not in self.digests:
            yield self._trouble("altered", "the head of the chain", "digest", min(self.digests), head.digest)
        at = self.newest.at if self.newest else None
        if head.at != at:
            yield self._trouble("altered", "the head of the chain", "at", at, head.at)

    def _gap(self, sequence):
        first, last = self.number + 1, sequence - 1
        if first > last:
            return
        self.digests = set()
        what = f"entry {first}" if first == last else f"entries {first} to {last}"
        yield self._trouble("removed", what, sequence=first)

    def _trouble(self, kind, what, column="", expected="", found="", sequence=None, inspection=None):
        values = (shown(expected), shown(found)) if column else ("", "")
        return Trouble(kind, self.site.code, what, column, *values, sequence, inspection)


def _digests(entry):
    return {entry.digest, digest_now(entry)}


def against_seals(site, seals, *, using="default"):
    """Yield a trouble for every sealed entry that is gone or is another one now."""
    for seal in seals:
        entry = ChainEntry.objects.using(using).filter(site=site.pk, sequence=seal.sequence).first()
        if entry is None:
            yield Trouble(
                "removed", site.code, f"entry {seal.sequence}, which a seal names", "digest", seal.digest, "nothing",
                seal.sequence,
            )  # fmt: skip
        elif entry.digest != seal.digest:
            yield Trouble(
                "altered", site.code, "an entry that a seal names", "digest", seal.digest, entry.digest,
                seal.sequence, entry.inspection_id,
            )  # fmt: skip


def verify_inspection(inspection, *, using="default"):
    """Yield what is wrong with the entries about one inspection and with what they froze."""
    entries = list(ChainEntry.objects.using(using).filter(inspection=inspection.pk).select_related("site"))
    read = read_batch(entries, using=using)
    for entry in entries:
        yield from against_entry(entry.site, entry, read)
    yield from against_photographs(Photograph.objects.using(using).filter(step__inspection=inspection.pk))
    attached = Q(inspection=inspection.pk) | Q(finding__result__step__inspection=inspection.pk)
    yield from against_attachments(Attachment.objects.using(using).filter(attached))
