"""Which certificate corrects a reading: that in force on its day, that of a signed record, or none."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from fleet.calibration.intervals import drift_of
from fleet.catalogue.dimensions import find_unit
from fleet.models import Calibration
from inspections.bench.corrections import Correction, correction_from_dict, correction_of, correction_to_dict


@dataclass(frozen=True, slots=True)
class AppliedCertificate:
    """The corrections of one certificate, by the identity of the scale that each corrects."""

    certificate: str
    by_scale: Mapping[tuple, Correction]


IDENTITY = ("dimension", "unit", "low", "high")  # what identifies a scale of an instrument, in files and records


def identity_of(scale):
    return tuple(getattr(scale, name) for name in IDENTITY)


def corrections_in_force(instruments, site):
    """Return a function of a reading: the AppliedCertificate of its instrument on its day, None where none applies.

    One query where an instrument has its readings corrected, else none.
    """
    corrected = [one for one in instruments if one.applies_corrections]
    if not corrected:
        return lambda reading: None
    history = _histories(corrected)
    known = {}

    def of(reading):
        instrument = reading.instrument
        if instrument is None or instrument.pk not in history:
            return None
        key = (instrument.pk, site.date_of(reading.entered_at))
        if key not in known:
            known[key] = applied_on(history[instrument.pk], key[1])
        return known[key]

    return of


def _histories(instruments):
    """The calibrations of each instrument with its scales, the newest first."""
    found = {one.pk: ([], {scale.pk: scale for scale in one.scales.all()}) for one in instruments}
    for calibration in Calibration.objects.filter(instrument__in=found).order_by("-calibrated_on", "-pk"):
        found[calibration.instrument_id][0].append(calibration)
    return found


def applied_on(history, day):
    """Return what the newest calibration up to a day corrects by its as-left points; None without any."""
    calibrations, scales = history
    up_to = [one for one in calibrations if one.calibrated_on <= day]
    return certificate_of(up_to[0], up_to[1:], scales) if up_to else None


def certificate_of(calibration, earlier, scales):
    """Return the AppliedCertificate of a calibration's as-left points, None where no scale can be corrected.

    earlier  the calibrations before it, the newest first: what drifted between two of them counts as uncertainty
    """
    drifts = _drifts([calibration, *earlier], scales)
    found = {}
    for one in calibration.scale_points:
        scale = scales.get(one.scale)
        if scale is None:
            continue
        own, unit = one.in_unit(scale.unit), find_unit(scale.unit)[1]
        correction = correction_of(
            own.left, calibration.certificate, factor=unit.factor, zero=unit.zero, drift=drifts.get(scale.pk, 0.0)
        )
        if correction:
            found[identity_of(scale)] = correction
    return AppliedCertificate(calibration.certificate, found) if found else None


def _drifts(newest_first, scales):
    """The largest drift of each scale between two calibrations, in its unit; nothing where no two have points."""
    found = {}
    points = [{one.scale: one for one in calibration.scale_points} for calibration in newest_first]
    for after, before in zip(points, points[1:], strict=False):
        for key in (after.keys() & before.keys()) & scales.keys():
            unit = scales[key].unit
            drift = drift_of(before[key].in_unit(unit).left, after[key].in_unit(unit).found)
            if drift is not None:
                found[key] = max(found.get(key, 0.0), drift)
    return found


def frozen_corrections(content, site):
    """Return a function of a reading as `corrections_in_force` does, from the content of a signed record.

    A record from before corrections names none, and nothing is corrected.
    """
    entries = {}
    for entry in content.get("instruments", ()):
        if entry["calibrated_on"]:
            entries.setdefault(entry["code"], []).append(entry)
    if not any(entry.get("corrections") for held in entries.values() for entry in held):
        return lambda reading: None

    def of(reading):
        held = entries.get(reading.instrument.code, ()) if reading.instrument else ()
        day = site.date_of(reading.entered_at)
        up_to = [one for one in held if date.fromisoformat(one["calibrated_on"]) <= day]
        return _frozen(max(up_to, key=lambda one: one["calibrated_on"])) if up_to else None

    return of


def _frozen(entry):
    given = [dict(one) for one in entry.get("corrections", ())]
    found = {tuple(one.pop(name) for name in IDENTITY): one for one in given}
    by_scale = {scale: correction_from_dict(one, f"{entry['code']}.corrections") for scale, one in found.items()}
    return AppliedCertificate(entry["certificate"], by_scale) if by_scale else None


def corrections_content(applied):
    """Return what a record freezes of an AppliedCertificate: each correction with the scale that it corrected."""
    return [
        {**dict(zip(IDENTITY, scale, strict=True)), **correction_to_dict(correction)}
        for scale, correction in applied.by_scale.items()
    ]


def certificates_on(instruments, day):
    """Map the key of each instrument whose readings are corrected to its AppliedCertificate on a day. One query."""
    corrected = [one for one in instruments if one.applies_corrections]
    if not corrected:
        return {}
    found = {pk: applied_on(history, day) for pk, history in _histories(corrected).items()}
    return {pk: one for pk, one in found.items() if one}
