"""Which signed results would be decided otherwise, had the error in which an instrument was found been known.

All readings since its last good calibration are corrected by the as-found points of a later one, and their steps are
evaluated again with everything else as it was signed. Only the error is put in: the uncertainty stays that of the
accuracy, and beyond the first and the last point their error counts as a share of the reading. When the instrument
went wrong nobody knows; so an early reading may have been sound. Signed rows are only read.
"""

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import datetime, time
from functools import cache
from zoneinfo import ZoneInfo

from fleet.catalogue.dimensions import find_unit
from fleet.models import Calibration
from inspections.at_bench.evaluation import Evaluator
from inspections.at_bench.instrument_corrections import AppliedCertificate, frozen_corrections, identity_of
from inspections.bench import UnknownTest
from inspections.bench.corrections import correction_of
from inspections.models import Inspection, InspectionStep, Reading, Result
from inspections.result_display import ShownResult, in_unit_of_place

MOST_ON_A_PAGE = 10  # inspections that one page decides again, the newest first; a background job decides all
CHUNK = 25
NEVER = "cannot be evaluated"


@dataclass(frozen=True, slots=True)
class Suspected:
    """One result that would be decided otherwise; decisions and values in words."""

    inspection: Inspection
    step: InspectionStep
    label: str
    was: str
    would_be: str
    value_was: str
    value_would_be: str


@dataclass(frozen=True, slots=True)
class FoundError:
    """The as-found error of an instrument and the signed inspections that rest on it.

    since     its last good calibration before, None if there is none
    by_scale  corrections by the identity of the scale; empty where no scale has two points as found
    """

    calibration: Calibration
    since: Calibration | None
    by_scale: dict

    @property
    def first(self):
        """The first moment at which a reading rests on it, None for the very first reading."""
        return _start(self.since.calibrated_on, self._site) if self.since else None

    @property
    def end(self):
        return _start(self.calibration.calibrated_on, self._site)

    @property
    def _site(self):
        return self.calibration.instrument.site

    def holds(self, reading):
        first = self.first
        own = reading.instrument_id == self.calibration.instrument_id
        return own and reading.entered_at < self.end and (first is None or reading.entered_at >= first)

    def applied(self, *, replaces_accuracy):
        kind = {"replaces_accuracy": replaces_accuracy, "reaches_beyond": True}
        by_scale = {scale: replace(one, **kind) for scale, one in self.by_scale.items()}
        return AppliedCertificate(f"{self.calibration.certificate}, as found", by_scale)


def found_error(calibration):
    """Return the FoundError of a calibration, whose instrument and its site are loaded. Two queries."""
    scales = {scale.pk: scale for scale in calibration.instrument.scales.all()}
    by_scale = {}
    for one in calibration.scale_points:
        if (scale := scales.get(one.scale)) is None:
            continue
        unit, found = find_unit(scale.unit)[1], one.in_unit(scale.unit).found
        correction = correction_of(found, calibration.certificate, factor=unit.factor, zero=unit.zero)
        if correction:
            by_scale[identity_of(scale)] = correction
    return FoundError(calibration, Calibration.objects.last_good_before(calibration), by_scale)


def readings_on(error):
    """Return the current readings of signed inspections that were taken with the instrument in the doubtful time."""
    readings = Reading.objects.current().filter(instrument=error.calibration.instrument_id, entered_at__lt=error.end)
    return readings.filter(entered_at__gte=error.first) if error.first else readings


def inspections_on(error, person):
    """Return the signed inspections that `person` may see and that rest on the instrument, the newest first."""
    doubtful = readings_on(error).filter(step__applies=True, step__not_tested_reason="")
    signed = Inspection.objects.visible_to(person).signed().filter(record__isnull=False)
    return signed.filter(pk__in=doubtful.values("step__inspection")).order_by("-signed_at", "-pk")


def loaded(chosen):
    """Yield the inspections of these keys with what their evaluation needs, in the order of the keys."""
    rows = Inspection.objects.select_related("record", "machine__area__site", "machine__model", "procedure")
    for start in range(0, len(chosen), CHUNK):
        keys = chosen[start : start + CHUNK]
        found = rows.in_bulk(keys)
        yield from (found[key] for key in keys if key in found)


def suspected(inspection, error):
    """Return what would be decided otherwise in one signed inspection, loaded as by `loaded`."""
    readings = _readings(inspection)
    doubtful = [step for step, taken in readings.items() if any(error.holds(one) for one in taken)]
    if not doubtful or not error.by_scale:
        return []
    signed = frozen_corrections(inspection.record.read(), inspection.machine.site)
    results = defaultdict(dict)
    for result in Result.objects.filter(step__in=doubtful):
        results[result.step_id][result.key] = result
    with_error = Evaluator(inspection, corrections=_with_error(error, signed))
    as_signed = cache(lambda: Evaluator(inspection, corrections=signed))
    found = []
    for step in InspectionStep.objects.filter(pk__in=doubtful).select_related("component").order_by("position", "pk"):
        step.inspection = inspection
        found += _of_step(step, readings[step.pk], results[step.pk], with_error, as_signed)
    return found


def _readings(inspection):
    found = defaultdict(list)
    current = Reading.objects.current().filter(step__inspection=inspection)
    for reading in current.filter(step__applies=True, step__not_tested_reason="").select_related("instrument"):
        found[reading.step_id].append(reading)
    return found


def _with_error(error, signed):
    """Return the corrections as signed, but for readings on which the found error lies."""
    plain, instead = error.applied(replaces_accuracy=False), error.applied(replaces_accuracy=True)

    def of(reading):
        before = signed(reading)
        if not error.holds(reading):
            return before
        return plain if before is None else instead

    return of


def _of_step(step, readings, results, with_error, as_signed):
    """Return the results that change by the error alone: what a newer program would decide otherwise is no finding."""
    found = _decided(with_error, step, readings)
    changed = [key for key in {**results, **found} if _decision(results.get(key)) != _decision(found.get(key))]
    if not changed:
        return []
    before = _decided(as_signed(), step, readings)
    return [
        _suspected(step, key, results.get(key), found.get(key))
        for key in changed
        if _decision(before.get(key)) != _decision(found.get(key))
    ]


def _decided(evaluator, step, readings):
    """Return the results of a step by key; none where it cannot be evaluated."""
    try:
        return {one.key: one for one in evaluator.evaluate(step, readings).evaluation.results}
    except UnknownTest:
        return {}


def _decision(result):
    return NEVER if result is None else str(result.decision or "")


def _suspected(step, key, signed, now):
    shown = ShownResult(in_unit_of_place(now)) if now else None
    return Suspected(
        step.inspection, step, signed.label if signed else now.label,
        "not computed" if signed is None else signed.decision_words or "reported only",
        shown.decision or "reported only" if shown else NEVER,
        signed.shown.full_value if signed else "", shown.full_value if shown else "",
    )  # fmt: skip


def _start(day, site):
    return datetime.combine(day, time(), ZoneInfo(site.time_zone))
