"""Lock an inspection in progress while its readings change."""

from inspections.errors import RecordFrozen
from inspections.models import Inspection


def hold_in_progress(step):
    """Lock the inspection for this transaction and refuse if its readings are closed."""
    inspection = Inspection.objects.select_for_update(no_key=True).only("stage").get(pk=step.inspection_id)
    if not inspection.is_in_progress:
        raise RecordFrozen(f"{inspection} is {inspection.stage_word}: its readings are locked. Plan a new inspection.")
