"""Record calibrations of test equipment."""

from django.db import transaction

from fleet.models import Calibration


@transaction.atomic
def record_calibration(instrument, *, calibrated_on, due_on, certificate, result, laboratory="", note=""):
    """Add a calibration to an instrument's history; earlier ones stay."""
    return Calibration.objects.create(
        instrument=instrument,
        calibrated_on=calibrated_on,
        due_on=due_on,
        certificate=certificate,
        result=result,
        laboratory=laboratory,
        note=note,
    )
