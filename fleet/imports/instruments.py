"""Test equipment with its calibrations and scales: one row adds or corrects one of each."""

from functools import partial

from fleet.catalogue.dimensions import UNITS
from fleet.catalogue.plausibility import SCALE_NUMBERS, scale_problems
from fleet.changes import record_created, recording
from fleet.errors import RegisterRefused
from fleet.imports.places import by_names
from fleet.imports.plan import (
    Addition,
    Change,
    Correction,
    cells_of,
    differences,
    listed,
    plan_rows,
    problem,
    same,
)
from fleet.models import Calibration, Instrument, InstrumentScale

OWN = ("name", "serial")
NEEDED = ("name", "site")
CALIBRATION = ("calibrated_on", "due_on", "certificate", "result", "laboratory", "note")
CALIBRATION_NEEDS = ("calibrated_on", "due_on", "certificate")
SCALE = ("unit", *SCALE_NUMBERS)
SCALE_NEEDS = ("measures", "unit", "low", "high", "resolution")


def plan_instruments(parsed, scope, tell):
    """Compare the rows with the instruments that the person may change.

    The certificate identifies a calibration; dimension, unit and ends identify a scale.
    """
    held = _Held(parsed.rows, scope)
    return plan_rows(parsed, parsed.rows, partial(_plan_row, held), tell)


class _Held:
    def __init__(self, rows, scope):
        codes = {row.values["code"] for row in rows}
        named = scope.instruments.filter(code__in=codes).prefetch_related("calibrations", "scales")
        self.instruments = {one.code: one for one in named.select_related("site")}
        everywhere = set(Instrument.objects.filter(code__in=codes).values_list("code", flat=True))
        self.elsewhere = everywhere - self.instruments.keys()
        sites = list(scope.sites)
        self.sites = by_names(sites, lambda site: site.code, lambda site: site.name)
        self.site_names = [site.name for site in sites]
        self.today = scope.today
        self.new = {}

    def calibration(self, instrument, certificate):
        found = instrument.calibrations.all() if instrument else ()
        return next((one for one in found if one.certificate.casefold() == certificate.casefold()), None)

    def scale(self, instrument, values):
        wanted = (values["measures"], values["unit"], values["low"], values["high"])
        found = instrument.scales.all() if instrument else ()
        return next((one for one in found if (one.dimension, one.unit, one.low, one.high) == wanted), None)


def _plan_row(held, plan, row, told):
    code, problems = row.values["code"], []
    if code in held.elsewhere:
        message = "is an instrument of a site that you may not change."
        plan.problems.append(problem(row, "code", message, "instruments of your sites."))
        return
    instrument = held.instruments.get(code)
    own = _own(row, held, instrument, problems, told)
    calibration = _calibration(row, held, problems, told)
    scale = _scale(row, problems, told)
    plan.problems += problems
    if problems or any(found.row == row.number for found in plan.problems):
        return
    if instrument is None:
        parts = {"calibration": calibration, "scale": scale}
        plan.created.append(Addition(row.number, code, cells_of(row), {"code": code, **own}, parts))
    else:
        _plan_update(plan, row, held, instrument, own, calibration, scale)


def _own(row, held, instrument, problems, told):
    own = {name: row.values[name] for name in OWN if name in row.values}
    if "site" in row.values:
        site = held.sites.get(row.values["site"].casefold())
        if site is None:
            problems.append(problem(row, "site", "is not a site that you may change.", listed(held.site_names), "name"))
        else:
            own["site"] = site
    if instrument is not None:
        return own
    code = row.values["code"]
    first = held.new.setdefault(code, own)
    for name, value in own.items():
        if not same(first.setdefault(name, value), value):
            message = f"differs from the first row of {code}, “{first[name]}”."
            problems.append(problem(row, name, message, f"{first[name]}, or blank."))
    if first is own:
        missing = [name for name in NEEDED if name not in row.values and (row.number, name) not in told]
        accepted = "a value, since this instrument is new to the register."
        problems += [problem(row, name, "is missing.", accepted) for name in missing]
    return own


def _missing(row, needed, given, told, what):
    """Return the problems of a calibration or scale that is given incompletely."""
    if not any(name in row.values for name in given):
        return []
    missing = [name for name in needed if name not in row.values and (row.number, name) not in told]
    return [problem(row, name, f"is missing although the row has {what}.", "a value.") for name in missing]


def _calibration(row, held, problems, told):
    wrong = _missing(row, CALIBRATION_NEEDS, CALIBRATION, told, "a calibration")
    start, end = row.values.get("calibrated_on"), row.values.get("due_on")
    if start and start > held.today:
        wrong.append(problem(row, "calibrated_on", "is in the future.", f"a date up to {held.today}."))
    if start and end and end <= start:
        wrong.append(problem(row, "due_on", f"is not after the calibration on {start}.", "a later date."))
    problems += wrong
    given = {name: row.values[name] for name in CALIBRATION if name in row.values}
    return None if wrong or "certificate" not in given else given


def _scale(row, problems, told):
    values = row.values
    wrong = _missing(row, SCALE_NEEDS, ("measures", *SCALE), told, "a scale")
    units = UNITS.get(values.get("measures"), ())
    if "unit" in values and units and values["unit"] not in units:
        wrong.append(problem(row, "unit", f"does not measure {values['measures']}.", listed(units)))
    wrong += [problem(row, name, found.message, f"{found.accepted}.") for name, found in scale_problems(values).items()]
    problems += wrong
    if wrong or "measures" not in values:
        return None
    return {"measures": values["measures"], **{name: values[name] for name in SCALE if name in values}}


def _plan_update(plan, row, held, instrument, own, calibration, scale):
    own, changes = differences(instrument, own)
    parts = {}
    if calibration:
        old = held.calibration(instrument, calibration["certificate"])
        new = f"{calibration['certificate']}, {calibration['calibrated_on']} to {calibration['due_on']}"
        parts["calibration"] = _part(old, calibration, "calibration", new, changes)
    if scale:
        old = held.scale(instrument, scale)
        new = f"{scale['measures']} {scale['low']:g} to {scale['high']:g} {scale['unit']}"
        fields = {name: value for name, value in scale.items() if name != "measures"}
        parts["scale"] = _part(old, {"dimension": scale["measures"], **fields}, "scale", new, changes)
    if changes:
        plan.updated.append(Correction(row.number, str(instrument), instrument, tuple(changes), own, parts))
    else:
        plan.unchanged += 1


def _part(old, fields, what, words_of_new, changes):
    """Return (record or None, fields to set) and add to the changes."""
    if old is None:
        changes.append(Change(f"new {what}", "", words_of_new))
        return None, fields
    changed, told = differences(old, {name: value for name, value in fields.items() if name != "certificate"})
    changes += [Change(f"{what}: {change.column}", change.before, change.after) for change in told]
    return old, changed


def apply_instruments(plan, *, by, at, source, tell, prepared=None):
    total, made = len(plan.created) + len(plan.updated), {}
    for done, new in enumerate(plan.created):
        tell(done, total, "Entering instruments")
        code = new.fields["code"]
        if code not in made:
            made[code] = _create(Instrument, by, at, **new.fields)
        if new.extra["calibration"]:
            _create(Calibration, by, at, instrument=made[code], **new.extra["calibration"])
        if new.extra["scale"]:
            scale = dict(new.extra["scale"])
            _create(InstrumentScale, by, at, instrument=made[code], dimension=scale.pop("measures"), **scale)
    for done, update in enumerate(plan.updated, start=len(plan.created)):
        tell(done, total, "Correcting instruments")
        _set(update.record, update.fields, by, at)
        for model, part in ((Calibration, "calibration"), (InstrumentScale, "scale")):
            old, fields = update.extra.get(part, (None, {}))
            if old is not None:
                _set(old, fields, by, at)
            elif fields:
                _create(model, by, at, instrument=update.record, **fields)


def _create(model, by, at, **fields):
    row = model.objects.create(**fields)
    record_created([row], by=by, at=at)
    return row


def _set(row, fields, by, at):
    if fields:
        with recording(row, by=by, at=at):
            if not type(row).objects.filter(pk=row.pk).update(**fields):
                raise RegisterRefused(
                    f"Nothing was imported: {row} has been removed since the preview. Open the preview again."
                )


def instrument_rows(scope):
    """Yield instruments as rows of a file: one for each calibration or scale, whichever are more, at least one."""
    found = scope.instruments.select_related("site").prefetch_related("calibrations", "scales").order_by("code")
    for one in found.iterator(chunk_size=200):
        own = {"code": one.code, "name": one.name, "serial": one.serial, "site": one.site.code}
        calibrations = [_calibration_cells(row) for row in one.calibrations.all()]
        scales = [_scale_cells(row) for row in one.scales.all()]
        for position in range(max(len(calibrations), len(scales), 1)):
            yield own | _at(calibrations, position) | _at(scales, position)


def _at(cells, position):
    return cells[position] if position < len(cells) else {}


def _calibration_cells(row):
    return {name: getattr(row, name) for name in CALIBRATION}


def _scale_cells(row):
    return {"measures": row.dimension, **{name: getattr(row, name) for name in SCALE}}
