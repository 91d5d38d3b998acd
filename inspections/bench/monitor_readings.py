"""What the machine itself shows of volume and pressure, against a reference at several settings."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from .breaths import body_factor
from .challenges import Challenge, Reason, Unmet, first_unmet
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .display_limits import (
    ANAESTHESIA,
    CRITICAL,
    FROM_VOLUME,
    pressure_limit_critical,
    volume_limit_anaesthesia,
    volume_limit_critical,
)
from .errors import BenchError
from .impossible import NeverCrosses
from .limits import Limit
from .measuring import Bench, Row
from .pictures import points
from .propagation import Measured, propagate_measured
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Curve, Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, reading, with_option
from .strictest import gravest
from .uncertainty import Estimate
from .ventilator import display_limit

SPREAD = 1.5
"""What the largest setting is of the smallest at least, so that more than one point of the scale was tried."""
LEAST_PRESSURE = to_si(20, "cmH2O")  # to which a display of airway pressure is tried; both: common practice, no source
CLOSELY = 0.99  # of what is set by hand
VOLUMES, PRESSURES = "volumes", "pressures"


@dataclass(frozen=True, slots=True)
class Shown:
    """One setting: what was true, under the conditions of the display, and by how much the display was off."""

    number: int
    reference: Measured
    true: float
    error: Estimate
    limit: Limit


def evaluate_readings(sheet: Sheet, context: Context) -> Evaluation:
    """Return the gravest error of the displays of volume and pressure. Raises BenchError (see Test)."""
    bench = Bench(TEST, sheet, context)
    results: list[Result] = []
    curves: list[Curve] = []
    for table, read in ((VOLUMES, _volumes), (PRESSURES, _pressures)):
        if not _is_asked(bench, table):
            continue
        shown = read(bench)
        if shown:
            results.append(_worst(bench, table, shown))
            curves.append(_curve(bench, table, shown))
    return bench.finish(results, curves)


def _is_asked(bench: Bench, table: str) -> bool:
    return bench.choice("displays") in ("both", table)


def _key(bench: Bench, table: str) -> str:
    return f"{table[:-1]}_{bench.choice('rule')}"


def _volumes(bench: Bench) -> list[Shown]:
    key, rule = _key(bench, VOLUMES), bench.choice("rule")
    is_body, own = bench.choice("conditions") == "body", bench.context.limits.get(key)
    make = volume_limit_critical if rule == CRITICAL else volume_limit_anaesthesia
    found = []
    for number, row in _rows(bench, VOLUMES):

        def grown(reference: float, ambient: float, kelvin: float) -> float:
            return reference * (body_factor(ambient, kelvin) if is_body else 1.0)

        ambient, kelvin = bench.ambient, bench.ambient_kelvin
        true = grown(row["reference"].value, ambient.value, kelvin.value)
        error = propagate_measured(
            lambda shown, *others: shown - grown(*others), (row["shown"], row["reference"], ambient, kelvin)
        )
        found.append(Shown(number, row["reference"], true, error, own or make(key, true)))
    return found


def _pressures(bench: Bench) -> list[Shown]:
    key, own = _key(bench, PRESSURES), bench.context.limits.get(_key(bench, PRESSURES))
    top = _full_scale(bench)
    rows = _rows(bench, PRESSURES)
    if top is None:
        return []
    found = []
    for number, row in rows:
        error = propagate_measured(lambda shown, true: shown - true, (row["shown"], row["reference"]))
        true = row["reference"].value
        made = pressure_limit_critical(key, true) if top == 0 else display_limit(true, top, key)
        found.append(Shown(number, row["reference"], true, error, own or made))
    return found


def _full_scale(bench: Bench) -> float | None:
    """Return the full scale of the pressure display; 0 where the rule does not ask for it, None where it is missing."""
    if bench.choice("rule") == CRITICAL:
        return 0.0
    top = bench.value("full_scale", needed=True, nominal=True)
    if top is not None and top.value <= 0:
        raise BenchError("full_scale", "Full scale of the pressure display: enter the highest pressure that it shows.")
    return None if top is None else top.value


def _rows(bench: Bench, table: str) -> list[tuple[int, Row]]:
    found = bench.rows(table, needed=1, nominal=("shown",))
    for number, row in found:
        if table == VOLUMES and row["reference"].value == 0:
            raise BenchError(f"{table}[{number}].reference", f"Row {number}: a volume of 0 is no breath.")
    return sorted(found, key=lambda one: one[1]["reference"].value)


def _worst(bench: Bench, table: str, shown: list[Shown]) -> Result:
    key = _key(bench, table)
    judged = _in_range(bench, table, shown)
    rows = judged or shown
    one = rows[gravest(bench.test.result_spec(key), [(row.error, row.limit) for row in rows])]
    unit = bench.unit(table, "reference")
    remark = f"Row {one.number}, {from_si(one.true, unit):.3g} {unit} by the reference: the gravest of {len(rows)}."
    if table == VOLUMES:
        remark = f"{remark} {one.error.value / one.true:+.1%} of the volume."
    spec = bench.test.result_spec(key)
    convention = (
        f"{spec.convention}; {_CONDITIONS[bench.choice('conditions')]}" if table == VOLUMES else spec.convention
    )
    result = bench.result(key, one.error, limit=one.limit, unjudged="" if judged else _below(bench), remark=remark,
                          convention=convention)  # fmt: skip
    return replace(result, unit=unit)


def _in_range(bench: Bench, table: str, shown: list[Shown]) -> list[Shown]:
    if table == PRESSURES:
        return shown
    return [one for one in shown if one.true > FROM_VOLUME[bench.choice("rule")] * (1 + 1e-9)]


def _below(bench: Bench) -> str:
    least = from_si(FROM_VOLUME[bench.choice("rule")], "mL")
    return f"The rule says nothing of volumes up to {least:.0f} mL; no larger one was given."


def _read(bench: Bench, table: str) -> list[Shown]:
    """Return the rows that are judged; none of a table that is not asked for."""
    if not _is_asked(bench, table):
        return []
    return _in_range(bench, table, _volumes(bench) if table == VOLUMES else _pressures(bench))


def _apart(table: str) -> Callable[[Bench], Unmet | None]:
    def check(bench: Bench) -> Unmet | None:
        if all(one.reference.instrument for one in _read(bench, table)):
            return None
        return Unmet(
            "The reference names no instrument. A second display of the machine is no reference for the first: read a "
            "calibrated instrument at the patient end, and name it.", Reason.OWN_REFERENCE,
        )  # fmt: skip

    return check


def _spread(table: str) -> Callable[[Bench], Unmet | None]:
    def check(bench: Bench) -> Unmet | None:
        true = [one.true for one in _read(bench, table)]
        if not true or (max(true) >= SPREAD * CLOSELY * min(true) and max(true) > 0):
            return None
        return Unmet("The display was read at one setting. Read it at two or more, the largest 1.5 times the smallest "
                     "or above: zero and scale err apart.")  # fmt: skip

    return check


def _high_enough(bench: Bench) -> Unmet | None:
    true = [one.true for one in _read(bench, PRESSURES)]
    if not true or max(true) >= LEAST_PRESSURE * CLOSELY:
        return None
    return Unmet(
        f"The pressure rose to {from_si(max(true), 'cmH2O'):.3g} cmH2O; read the display at 20 cmH2O or more as well."
    )


def _curve(bench: Bench, table: str, shown: list[Shown]) -> Curve:
    x_unit, y_unit = bench.unit(table, "reference"), bench.unit(table, "shown")
    lines = (
        ("shown", [one.true + one.error.value for one in shown], "both"),
        ("lower limit", [one.true + (one.limit.lower_si or 0.0) for one in shown], "line"),
        ("upper limit", [one.true + (one.limit.upper_si or 0.0) for one in shown], "line"),
    )
    series = tuple(
        points(label, [(replace(one.reference, value=one.true), Measured(height))
                       for one, height in zip(shown, heights, strict=True)], x_unit, y_unit, style)
        for label, heights, style in lines
    )  # fmt: skip
    title = "Volume on the display" if table == VOLUMES else "Pressure on the display"
    return Curve(table, title, "reference", x_unit, "display", y_unit, series)


_CONDITIONS = {
    "as read": "display and reference under the same conditions",
    "body": "display at 37 °C and saturated, reference of dry gas at room temperature brought to that (ATPD to BTPS)",
}
_VOLUME_KEYS, _PRESSURE_KEYS = (
    tuple(f"{what}_{rule}" for rule in (ANAESTHESIA, CRITICAL)) for what in ("volume", "pressure")
)


def _asked_for(table: str, rule: str) -> Callable[[Bench], bool]:
    return lambda bench: _is_asked(bench, table) and bench.choice("rule") == rule


def _volume(rule: str, label: str) -> ResultSpec:
    return ResultSpec(
        f"volume_{rule}", label, Dimension.VOLUME, "mL", "display minus reference at the patient end, gravest row",
        Challenge("two volumes or more, the largest 1.5 times the smallest; the reference read on an instrument",
                  first_unmet(_apart(VOLUMES), _spread(VOLUMES))),
        needed=_asked_for(VOLUMES, rule), own_limit=True,
    )  # fmt: skip


def _pressure(rule: str, label: str) -> ResultSpec:
    return ResultSpec(
        f"pressure_{rule}", label, Dimension.PRESSURE, "cmH2O",
        "display minus reference at the patient end, gravest row",
        Challenge("two pressures or more, the largest 1.5 times the smallest and 20 cmH2O or more; the reference read "
                  "on an instrument", first_unmet(_apart(PRESSURES), _spread(PRESSURES), _high_enough)),
        needed=_asked_for(PRESSURES, rule), own_limit=True,
    )  # fmt: skip


def _table(key: str, label: str, dimension: Dimension, first: str, judges: tuple[str, ...]) -> TableSpec:
    true = reading("reference", "Reference", dimension, first=first, judges=judges, help="at the patient end; repeats "
                   "of several breaths")  # fmt: skip
    shown = reading("shown", "Machine shows", dimension, first=first, stated=True, judges=judges, help="of the same "
                    "breaths")  # fmt: skip
    return TableSpec(key, label, (replace(true, needs_instrument=True), shown), 0, 3, "rows in any order",
                     is_expected=True, wanted=with_option("displays", "both", key))  # fmt: skip


_SHOWS_MORE = "A display shows more where there is more."

TEST = Test(
    code="monitor-readings",
    family="ventilator and monitors",
    title="Monitors of volume and pressure",
    purpose="Compare what the machine itself shows of expired volume and airway pressure with a reference at several "
            "settings. Put the reference at the patient end in front of a test lung, let ten breaths pass after each "
            "change, and read both of the same breaths. Flow sensors of a machine read each gas a little otherwise: "
            "use the mixture that they are meant for, dry and without vapour.",
    cautions=(
        NEVER_ON_A_PATIENT,
        "{ventilator|Set the pressure limit of the ventilator before the first breath.}",
        "What commonly goes wrong: a moist or soiled flow sensor, a leak between the sensor and the reference, and a "
        "display at body conditions compared with a reference that reads dry room gas: 13 % at 20 °C.",
    ),
    readings=(
        reading("full_scale", "Full scale of the pressure display", Dimension.PRESSURE, first="cmH2O", required=False,
                asked=True, stated=True, judges=("pressure_anaesthesia",),
                wanted=tuple((("displays", table), ("rule", ANAESTHESIA)) for table in ("both", PRESSURES))),
    ),
    tables=(
        _table(VOLUMES, "Volumes", Dimension.VOLUME, "mL", _VOLUME_KEYS),
        _table(PRESSURES, "Pressures", Dimension.PRESSURE, "cmH2O", _PRESSURE_KEYS),
    ),
    choices=(
        ChoiceSpec("displays", "Displays that are compared",
                   (("both", "volume and pressure"), (VOLUMES, "volume"), (PRESSURES, "pressure")), "both"),
        ChoiceSpec("rule", "Limit of the displays",
                   ((ANAESTHESIA, "of anaesthetic machines: 20 % of the volume; 4 % of full scale + 4 % of pressure"),
                    (CRITICAL, "of critical care ventilators: 4 mL + 15 %; 2 cmH2O + 4 %")), ANAESTHESIA),
        ChoiceSpec("conditions", "Conditions of the volume display",
                   (("as read", "as the reference reads it"),
                    ("body", "37 °C and saturated; the reference reads dry gas at room temperature")), "as read",
                   wanted=with_option("displays", "both", VOLUMES)),
    ),
    rated=(),
    results=(
        _volume(ANAESTHESIA, "Error of the volume display"),
        _volume(CRITICAL, "Error of the volume display, limit of critical care"),
        _pressure(ANAESTHESIA, "Error of the pressure display"),
        _pressure(CRITICAL, "Error of the pressure display, limit of critical care"),
    ),
    default_limits=(),
    source="IEC 60601-2-13 and ISO 80601-2-12, from memory",
    evaluate=evaluate_readings,
    pairs=tuple(NeverCrosses(key, key, "reference", "shown", _SHOWS_MORE) for key in (VOLUMES, PRESSURES)),
)  # fmt: skip
