"""What the pages of a signed record show: its digest, its stage, and what was added since."""

from fleet.place_format import NEUTRAL, using
from inspections.models import Amendment, ChainEntry, SignedRecord


@using(NEUTRAL)
def record_grounds(inspection):
    """Describe a signed record for whoever countersigns or amends it, or releases a machine on it; three queries."""
    record = SignedRecord.objects.filter(inspection=inspection.pk).first()
    signed_at = inspection.signed_at.isoformat() if inspection.signed_at else "not yet"
    grounds = {
        f"{inspection}": {
            "Digest": record.digest if record else "no record",
            "Signed": signed_at,
            "Signed by": str(inspection.signed_by or ""),
            "Stage": inspection.stage_word,
        }
    }
    for entry in ChainEntry.objects.filter(inspection=inspection.pk).order_by("sequence"):
        grounds[f"Entry {entry.sequence} of the chain"] = {"Kind": entry.kind, "Digest": entry.digest}
    for amendment in Amendment.objects.filter(inspection=inspection.pk).select_related("by", "step"):
        grounds[f"Amendment {amendment.pk}"] = {
            "Step": str(amendment.step or "the whole record"),
            "Correction": amendment.correction,
            "Reason": f"{amendment.reason} ({amendment.by})",
        }
    return grounds
