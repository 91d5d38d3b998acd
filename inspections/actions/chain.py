"""Add to the chain of a site. The head is locked until the transaction ends, so numbers follow without a gap."""

from inspections.chain.entries import (
    FIRST,
    entry_content,
    says_amendment,
    says_countersignature,
    says_signature,
)
from inspections.models import ChainEntry, ChainHead, EntryKind
from inspections.record import canonical_json, digest_of


def chain_signature(inspection, record, *, at):
    """Add a signed record to the chain of the site where its machine is."""
    says = says_signature(inspection, record)
    return _append(inspection, EntryKind.SIGNED, says, site=inspection.machine.area.site_id, at=at)


def chain_countersignature(inspection, *, at):
    """Add a countersignature to the chain that holds the signature."""
    return _append(inspection, EntryKind.COUNTERSIGNED, says_countersignature(inspection), site=None, at=at)


def chain_amendment(amendment, *, at):
    """Add an amendment to the chain that holds the signature."""
    says = says_amendment(amendment)
    return _append(amendment.inspection, EntryKind.AMENDED, says, site=None, at=at, amendment=amendment)


def _append(inspection, kind, says, *, site, at, amendment=None):
    head = _locked_head(site or _site_of_signature(inspection))
    place = {"sequence": head.sequence + 1, "previous": head.digest}
    content = canonical_json(
        entry_content(site=head.site_id, kind=kind, inspection=inspection.pk, at=at, says=says, **place)
    )
    digest = digest_of(content)
    entry = ChainEntry.objects.create(
        site_id=head.site_id, kind=kind, inspection=inspection, amendment=amendment, content=content, digest=digest,
        at=at, **place,
    )  # fmt: skip
    ChainHead.objects.filter(pk=head.pk).update(sequence=entry.sequence, digest=digest, at=at)
    return entry


def _locked_head(site):
    head, _ = ChainHead.objects.get_or_create(site_id=site, defaults={"digest": FIRST})
    return ChainHead.objects.select_for_update().get(pk=head.pk)


def _site_of_signature(inspection):
    """An inspection signed before a machine moved stays in the chain that it was signed in."""
    signed = ChainEntry.objects.filter(inspection=inspection, kind=EntryKind.SIGNED).values_list("site", flat=True)
    return signed.first() or inspection.machine.area.site_id
