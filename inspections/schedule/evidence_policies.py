"""The policies of dossiers in force: as the department decided them last, else as they are shipped."""

from dataclasses import replace

from inspections.models import EvidencePolicy
from inspections.planning.interval_evidence import POLICIES


def policies_in_force():
    """Return the Policy of each class, by code. One query."""
    found = dict(POLICIES)
    for one in EvidencePolicy.objects.order_by("at", "pk"):
        if one.code in POLICIES:
            found[one.code] = replace(
                POLICIES[one.code], most_share=one.most_share, confidence=one.confidence, source=one.source
            )
    return found
