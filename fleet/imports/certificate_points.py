"""Points of calibration certificates: one row adds one point, or two, to a certificate that is recorded already."""

from functools import partial

from fleet.actions.instruments import enter_calibration_points
from fleet.calibration.points import (
    BOTH,
    FOUND,
    LEFT,
    MOST_POINTS,
    Point,
    ScalePoints,
    from_error,
    is_near,
    is_off_scale,
    point_problems,
)
from fleet.catalogue.dimensions import UNITS
from fleet.errors import RegisterRefused
from fleet.imports.plan import Addition, cells_of, listed, needed_problems, plan_rows, problem
from fleet.models import Calibration

READINGS = ("reading", "error", "as_found", "as_left")


def plan_points(parsed, scope, tell):
    """Compare the rows with the points of the certificates of the instruments that the person may change.

    A row that says what is recorded already changes nothing. A recorded point is corrected on the page of its
    certificate, because a second reading at the same value may as well be the way back.
    """
    held = _Held(parsed.rows, scope)
    return plan_rows(parsed, parsed.rows, partial(_plan_row, held), tell)


class _Held:
    """The instruments that a file names, by code, and the points of each scale that are recorded or planned."""

    def __init__(self, rows, scope):
        codes = {row.values["code"] for row in rows}
        named = scope.instruments.filter(code__in=codes).prefetch_related("calibrations", "scales")
        self.instruments = {one.code: one for one in named}
        self.counts = {}

    def count(self, calibration, scale, stored, new):
        """Return how many points of a scale its certificate would hold with `new` more."""
        key = (calibration.pk, scale.pk)
        self.counts[key] = self.counts.get(key, len(stored)) + new
        return self.counts[key]


def _plan_row(held, plan, row, told):
    problems = needed_problems(row, plan.kind, told)
    instrument = held.instruments.get(row.values["code"])
    if instrument is None:
        accepted = "the code of an instrument of your sites. Import new instruments first."
        problems.append(problem(row, "code", "is not an instrument that you may change.", accepted))
    calibration = instrument and _calibration(row, instrument, problems)
    scale = instrument and _scale(row, instrument, problems)
    points = _points(row, problems, told) if all(name in row.values for name in plan.kind.needed) else {}
    if scale and not problems:
        for column, point in points.items():
            _check(row, scale, column, point, problems)
    plan.problems += problems
    if not problems and not any(found.row == row.number for found in plan.problems):
        _plan_points(held, plan, row, calibration, scale, tuple(points.values()))


def _calibration(row, instrument, problems):
    number = row.values.get("certificate")
    known = list(instrument.calibrations.all())
    found = next((one for one in known if number and one.certificate.casefold() == number.casefold()), None)
    if number and found is None:
        accepted = listed([one.certificate for one in known]) or "none: no calibration is recorded. Import it first."
        problems.append(problem(row, "certificate", f"is not recorded of {instrument}.", accepted))
    return found


def _scale(row, instrument, problems):
    """Return the scale that a row means: the one that its unit measures, of several the one with its ends."""
    unit = row.values.get("unit")
    if unit is None:
        return None
    of_unit = [scale for scale in instrument.scales.all() if unit in UNITS[scale.dimension]]
    given = {name: row.values[name] for name in ("low", "high") if name in row.values}
    matching = [scale for scale in of_unit if _has_ends(scale, unit, given)]
    if len(matching) == 1:
        return matching[0]
    if not of_unit:
        units = dict.fromkeys(unit for scale in instrument.scales.all() for unit in UNITS[scale.dimension])
        problems.append(problem(row, "unit", f"measures nothing that {instrument} has a scale for.", listed([*units])))
    else:
        message = "does not say which scale." if matching else "is not an end of a scale of this instrument."
        ends = [f"{_in_unit(one, unit)[0]:g} to {_in_unit(one, unit)[1]:g} {unit}" for one in of_unit]
        problems.append(problem(row, "low", message, f"low and high of one of {listed(ends)}"))
    return None


def _in_unit(scale, unit):
    """Return both ends of a scale in another unit of its dimension."""
    ends = ScalePoints(scale.pk, scale.unit, (Point(scale.low, scale.high, 1.0),)).in_unit(unit).points[0]
    return ends.reference, ends.reading


def _has_ends(scale, unit, given):
    low, high = _in_unit(scale, unit)
    rounding = 1e-6 * (high - low)
    return all(abs(end - given.get(name, end)) <= rounding for name, end in (("low", low), ("high", high)))


def _points(row, problems, told):
    """Return the points of a row by column; a row with readings as found and as left has two.

    A figure that cannot be read has its problem already.
    """
    values = row.values
    if any((row.number, name) in told for name in (*READINGS, "k", "condition")):
        return {}
    given = [name for name in READINGS if name in values]
    two = {"as_found", "as_left"}
    if not given or (len(given) > 1 and set(given) != two):
        message = "is missing." if not given else f"is stated more than once: {', '.join(given)}."
        problems.append(problem(row, "reading", message, "a reading, an error, or readings as found and as left."))
    if two & set(given) and "condition" in values:
        problems.append(problem(row, "condition", "stands beside a reading as found or as left.", "blank."))
    if problems:
        return {}
    conditions = {"as_found": FOUND, "as_left": LEFT}
    return {name: _point(values, name, conditions.get(name, values.get("condition", BOTH))) for name in given}


def _point(values, name, condition):
    reading = from_error(values["reference"], values["error"]) if name == "error" else values[name]
    return Point(values["reference"], reading, values["uncertainty"], values.get("k", 2.0), condition)


def _check(row, scale, column, point, problems):
    """Add the problems of a point; `column` is the one that says its reading."""
    unit = row.values["unit"]
    low, high = _in_unit(scale, unit)
    columns = {"expanded": "uncertainty", "reading": column}
    for name, _, found in point_problems(point, unit):
        problems.append(problem(row, columns.get(name, name), found.message, f"{found.accepted}."))
    if is_off_scale(point.reading, low, high):
        told = f"gives a reading of {point.reading:g} {unit}, outside the scale." if column == "error" else (
            "is outside the scale."
        )  # fmt: skip
        problems.append(problem(row, column, told, f"a reading of the scale, {low:g} to {high:g} {unit}."))


def _plan_points(held, plan, row, calibration, scale, points):
    """Add what is new of a row to the plan; points of one scale and certificate have the unit of those recorded."""
    stored = next((one for one in calibration.scale_points if one.scale == scale.pk), None)
    mine = ScalePoints(scale.pk, row.values["unit"], points)
    recorded = stored.in_unit(mine.unit).points if stored else ()
    new = [point for point in mine.points if not any(point.is_same(one) for one in recorded)]
    for point in new:
        if there := next((one for one in recorded if _is_of_same_value(one, point)), None):
            message = f"has a recorded reading of {there.reading:g} {mine.unit} already, with U {there.expanded:g}."
            accepted = "that reading and uncertainty; correct a recorded point on the page of its certificate."
            plan.problems.append(problem(row, "reference", message, accepted))
            return
    if not new:
        plan.unchanged += 1
    elif held.count(calibration, scale, recorded, len(new)) > MOST_POINTS:
        message = f"is more than the {MOST_POINTS} points of one scale on one certificate."
        plan.problems.append(problem(row, "reference", message, "fewer points."))
    else:
        fields = {"calibration": calibration, "points": ScalePoints(scale.pk, mine.unit, tuple(new))}
        label = f"{row.values['code']} {calibration.certificate}"
        plan.created.append(Addition(row.number, label, cells_of(row), fields))


def _is_of_same_value(one, other):
    share = BOTH in (one.condition, other.condition) or one.condition == other.condition
    return share and is_near(one.reference, other.reference)


def apply_points(plan, *, by, at, source, tell, prepared=None):
    """Add the points to those recorded, in one action for each scale of a certificate."""
    groups = {}
    for new in plan.created:
        key = (new.fields["calibration"].pk, new.fields["points"].scale)
        groups.setdefault(key, []).append(new.fields["points"])
    for done, ((calibration, scale), added) in enumerate(groups.items()):
        tell(done, len(groups), "Entering points of certificates")
        held = Calibration.objects.filter(pk=calibration).first()
        if held is None:
            raise RegisterRefused(
                "Nothing was imported: a calibration has been removed since the preview. Open the preview again."
            )
        stored = next((one for one in held.scale_points if one.scale == scale), None)
        parts = [stored, *added] if stored else added
        points = tuple(point for part in parts for point in part.in_unit(parts[0].unit).points)
        enter_calibration_points(held, ScalePoints(scale, parts[0].unit, points), by=by, at=at)


def point_rows(scope):
    """Yield the recorded points of the instruments as rows of a file; what is recorded twice once."""
    found = scope.instruments.prefetch_related("calibrations", "scales").order_by("code")
    for instrument in found.iterator(chunk_size=200):
        scales = {scale.pk: scale for scale in instrument.scales.all()}
        for calibration in instrument.calibrations.all():
            for held in (one for one in calibration.scale_points if one.scale in scales):
                yield from _rows_of(instrument, calibration, scales[held.scale], held)


def _rows_of(instrument, calibration, scale, held):
    low, high = _in_unit(scale, held.unit)
    same = {"code": instrument.code, "certificate": calibration.certificate, "unit": held.unit}
    for point in dict.fromkeys(held.points):
        yield same | {
            "reference": point.reference, "reading": point.reading, "condition": point.condition,
            "uncertainty": point.expanded, "k": point.k, "low": low, "high": high,
        }  # fmt: skip
