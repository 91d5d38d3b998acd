"""Enter test equipment, record its calibrations and decide about its interval and corrections."""

from django.db import IntegrityError, transaction

from fleet.catalogue.dimensions import UNITS
from fleet.catalogue.plausibility import scale_problems
from fleet.changes import record_created, recording
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


@transaction.atomic
def enter_calibration_points(calibration, scale_points, *, by, at):
    """Store the points that a certificate states of one scale, in place of those stored of that scale before.

    Records that were signed keep the points that they were corrected by. Raise InstrumentRefused for points of another
    instrument's scale, or of a unit that the scale does not measure.
    """
    scale = InstrumentScale.objects.filter(pk=scale_points.scale, instrument=calibration.instrument_id).first()
    if scale is None or scale_points.unit not in UNITS[scale.dimension]:
        raise InstrumentRefused(
            f"The points of {calibration.certificate} cannot be saved: choose a scale of {calibration.instrument}, and "
            "a unit that it measures."
        )
    with recording(calibration, by=by, at=at):
        held = Calibration.objects.get(pk=calibration.pk)
        others = [one.as_stored() for one in held.scale_points if one.scale != scale.pk]
        new = [scale_points.as_stored()] if scale_points.points else []
        calibration.points = sorted([*others, *new], key=lambda one: one["scale"])
        calibration.save(update_fields=["points"])


@transaction.atomic
def decide_calibration_rules(instrument, *, applies_corrections, interval_months, longest_interval_months, by, at):
    """Decide whether readings are corrected by the certificate, and the interval of calibration.

    Raise InstrumentRefused for an interval above the longest.
    """
    if interval_months and longest_interval_months and interval_months > longest_interval_months:
        raise InstrumentRefused(
            f"An interval of {interval_months} months is longer than the longest of {longest_interval_months} months. "
            "Enter a shorter one, or change the longest if its rule says so."
        )
    with recording(instrument, by=by, at=at):
        instrument.applies_corrections = applies_corrections
        instrument.interval_months, instrument.longest_interval_months = interval_months, longest_interval_months
        instrument.save(update_fields=["applies_corrections", "interval_months", "longest_interval_months"])
