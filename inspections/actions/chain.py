"""Add to the chain of a site. The head is locked until the transaction ends, so numbers follow without a gap."""

from django.conf import settings
from django.utils import timezone

from fleet.acting.scope import HISTORY, mode
from fleet.journal.checking import CLOCK_SKEW
from inspections.chain.entries import (
    FIRST,
    entry_content,
    says_amendment,
    says_countersignature,
    says_signature,
)
from inspections.errors import TimeRefused
from inspections.models import ChainEntry, ChainHead, EntryKind
from inspections.records.content import canonical_json, digest_of


def chain_signature(inspection, record, *, at):
    """Add a signed record to the chain of the site where its machine is."""
    says = says_signature(inspection, record)
    return _append(inspection, EntryKind.SIGNED, says, site=inspection.machine.area.site_id, at=at)


def chain_countersignature(inspection, *, at, signed_with=""):
    """Add a countersignature to the chain that holds the signature."""
    return _append(
        inspection, EntryKind.COUNTERSIGNED, says_countersignature(inspection, signed_with), site=None, at=at
    )


def chain_amendment(amendment, *, at):
    """Add an amendment to the chain that holds the signature."""
    says = says_amendment(amendment)
    return _append(amendment.inspection, EntryKind.AMENDED, says, site=None, at=at, amendment=amendment)


def _append(inspection, kind, says, *, site, at, amendment=None):
    head = _locked_head(site or _site_of_signature(inspection))
    _refuse_earlier(head, at)
    place = {"sequence": head.sequence + 1, "previous": head.digest}
    content = canonical_json(
        entry_content(
            site=head.site_id, kind=kind, inspection=inspection.pk, at=at, recorded_at=timezone.now(), mode=mode(),
            says=says, **place,
        )
    )  # fmt: skip
    digest = digest_of(content)
    entry = ChainEntry.objects.create(
        site_id=head.site_id, kind=kind, inspection=inspection, amendment=amendment, content=content, digest=digest,
        at=at, **place,
    )  # fmt: skip
    ChainHead.objects.filter(pk=head.pk).update(sequence=entry.sequence, digest=digest, at=at)
    return entry


def _locked_head(site):
    head, _ = ChainHead.objects.get_or_create(site_id=site, defaults={"digest": FIRST})
    return ChainHead.objects.select_for_update(of=("self",)).select_related("site").get(pk=head.pk)


def _refuse_earlier(head, at):
    """Raise TimeRefused for a time before the newest entry, by more than clocks differ."""
    if head.at is None or at >= head.at - CLOCK_SKEW or mode() == HISTORY or settings.ACCEPT_EARLIER_TIME:
        return
    raise TimeRefused(
        f"This would be dated {at:%Y-%m-%d %H:%M} UTC, but the newest entry at {head.site} is of "
        f"{head.at:%Y-%m-%d %H:%M} UTC. Nothing was saved. Correct the server clock and try again. If the "
        "clock was ahead when that entry was made, the administrator can set ACCEPT_EARLIER_TIME; the verification "
        "reports this."
    )


def _site_of_signature(inspection):
    """An inspection signed before a machine moved stays in the chain that it was signed in."""
    signed = ChainEntry.objects.filter(inspection=inspection, kind=EntryKind.SIGNED).values_list("site", flat=True)
    return signed.first() or inspection.machine.area.site_id
