"""Enter test equipment and record its calibrations."""

from django.db import IntegrityError, transaction

from fleet.catalogue.plausibility import scale_problems
from fleet.changes import record_created
from fleet.errors import InstrumentRefused
from fleet.models import Calibration, Instrument, InstrumentScale


@transaction.atomic
def add_instrument(*, scales, by, at, **fields):
    """Create an instrument with its scales; `scales` is a list of keyword sets, one at least.

    Raise InstrumentRefused without a scale, and for a number of one that is not plausible.
    """
    if not scales:
        raise InstrumentRefused(
            "An instrument needs at least one scale: enter what it measures, with range and accuracy."
        )
    for scale in scales:
        for name, problem in scale_problems(scale).items():
            raise InstrumentRefused(f"{name} of a scale: {problem.of(f'{scale[name]:g}')}")
    instrument = Instrument.objects.create(**fields)
    rows = InstrumentScale.objects.bulk_create(InstrumentScale(instrument=instrument, **scale) for scale in scales)
    record_created([instrument, *rows], by=by, at=at)
    return instrument


def record_calibration(instrument, *, calibrated_on, due_on, certificate, result, by, at, laboratory="", note=""):
    """Add a calibration to an instrument's history; earlier ones stay.

    Raise InstrumentRefused if the certificate is recorded already or runs out before it begins.
    """
    try:
        with transaction.atomic():
            calibration = Calibration.objects.create(
                instrument=instrument,
                calibrated_on=calibrated_on,
                due_on=due_on,
                certificate=certificate,
                result=result,
                laboratory=laboratory,
                note=note,
            )
            record_created([calibration], by=by, at=at)
            return calibration
    except IntegrityError:
        raise InstrumentRefused(
            f"Certificate {certificate} of {instrument} cannot be saved: either it is already recorded, or its "
            f"due date {due_on} is not after the calibration on {calibrated_on}."
        ) from None
