"""Lock an inspection in progress while its readings change, and procedures while somebody plans."""

from inspections.errors import RecordFrozen
from inspections.models import Inspection, Procedure


def hold_in_progress(step):
    """Lock the inspection for this transaction and refuse if its readings are closed."""
    hold_inspection_in_progress(step.inspection_id)


def hold_inspection_in_progress(pk):
    """Lock an inspection, refuse if its readings are closed, and return it with its units."""
    inspection = Inspection.objects.select_for_update(no_key=True).only("stage", "units").get(pk=pk)
    if not inspection.is_in_progress:
        raise RecordFrozen(f"{inspection} is {inspection.stage_word}: its readings are locked. Plan a new inspection.")
    return inspection


def hold_procedures(pks):
    """Hold procedures until the transaction ends, so that two who plan see what the other has planned."""
    list(Procedure.objects.select_for_update(no_key=True).filter(pk__in=list(pks)).order_by("pk"))
