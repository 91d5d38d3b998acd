"""The error of one flowmeter tube over its scale, against a reference flowmeter."""

from .challenges import Challenge, NoChallenge, Reason, Unmet, first_unmet
from .chosen_units import chosen_unit
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test, gas_options
from .float_flow import (
    AS_READ,
    CALIBRATED,
    DENSITY,
    LOWEST_SHARE,
    OWN_GAS,
    OXYGEN_93,
    STANDARD,
    Conditions,
    TubeRow,
    conditions,
    error_of,
    true_per_shown,
    tube_rows,
)
from .impossible import NeverCrosses
from .judging import judged_result
from .limits import FROM_MEMORY, Limit
from .measuring import Bench
from .pictures import limit_marks
from .quantities import Dimension, Zero, from_si, interval_from_si
from .readings import Sheet
from .results import Curve, Evaluation, Mark, Result, Series
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading, with_option
from .strictest import gravity
from .uncertainty import Estimate

Errors = list[tuple[TubeRow, Estimate]]
NAMES = {True: "At its own calibration conditions", False: "As read"}  # whether the correction is applied


def evaluate(sheet: Sheet, context: Context) -> Evaluation:
    """Return the gravest error from 10 % of full scale on, by both conventions, and the error below that."""
    bench = Bench(TEST, sheet, context)
    given, (high, low) = conditions(bench), tube_rows(bench)
    _warn_of_agent(bench)
    errors = {ask: [(row, error_of(bench, row, given, calibrated=ask)) for row in high] for ask in (True, False)}
    low_errors = [(row, error_of(bench, row, given, calibrated=False)) for row in low]
    results = _judged(bench, given, errors) if high else []
    if low:
        row, worst = max(low_errors, key=lambda one: abs(one[1].value))
        results.append(bench.result("low_error", worst, remark=_where(row)))
    return bench.finish(results, _curves(bench, errors, low_errors) if high or low else ())


def _is_calibrated(bench: Bench) -> bool:
    return bench.choice("convention") == CALIBRATED


def _judged(bench: Bench, given: Conditions, errors: dict[bool, Errors]) -> list[Result]:
    """Return the gravest error by the convention chosen, judged, and by the other one, reported."""
    chosen, gravest = _is_calibrated(bench), {ask: _gravest(bench, found) for ask, found in errors.items()}
    results = []
    for key, ask in (("worst_error", chosen), ("other_error", not chosen)):
        row, error, _ = gravest[ask]
        words = _convention(bench, given, calibrated=ask)
        results.append(bench.result(key, error, remark=f"{NAMES[ask]}. {_where(row)}", convention=words))
    _say_both(bench, given, {ask: found for ask, (_, _, found) in gravest.items()})
    return results


def _judge(bench: Bench) -> Limit | None:
    return bench.context.limits.get("worst_error") or bench.limit("worst_error")


def _gravest(bench: Bench, errors: Errors) -> tuple[TubeRow, Estimate, Result]:
    """Return the row with the gravest decision: a small error that is badly known may be graver than a larger one."""
    spec, judge = bench.test.result_spec("worst_error"), _judge(bench)
    judged = [(row, error, judged_result(spec, error, judge)) for row, error in errors]
    return min(judged, key=lambda one: (*gravity(one[2]), -abs(one[1].value)))


def _where(row: TubeRow) -> str:
    shown, reference = (from_si(one.value, "L/min") for one in (row.setting, row.reference))
    return f"Row {row.number}: set {shown:.3g} L/min, reference {reference:.3g} L/min."


def _factor(bench: Bench, given: Conditions) -> float:
    surroundings = (bench.context.ambient_pa_abs, bench.context.temperature_k)
    return given.factor(*surroundings, given.pressure.value, given.kelvin.value)


def _convention(bench: Bench, given: Conditions, *, calibrated: bool) -> str:
    volume = "its standard volume turned into that of the room" if given.reference_kelvin else "volume in the room"
    if not calibrated:
        return f"as read: (set - reference) / reference; reference: {volume}; gravest row from 10 % of full scale on"
    return (
        f"of the tube at its own calibration conditions: (set × {_factor(bench, given):.4f} - reference) / reference; "
        f"reference: {volume}; gravest row from 10 % of full scale on"
    )


def _say_both(bench: Bench, given: Conditions, worst: dict[bool, Result]) -> None:
    """Remark what the choice of convention changes: the same readings may err the other way by the other one."""
    bench.remarks.append(
        f"A sound tube delivers {_factor(bench, given):.4f} times what it shows here, by gas, pressure and "
        f"temperature. Gravest error as read: {worst[False].value_si:+.1%}; of the tube at its own calibration "
        f"conditions: {worst[True].value_si:+.1%}."
    )
    by_read, by_tube = worst[False].decision, worst[True].decision
    if by_read != by_tube:
        bench.remarks.append(
            f"The convention decides. {_judge(bench).title}: the error as read alone, {by_read.value}; the error of "
            f"the tube at its own calibration conditions, {by_tube.value}."
        )
    for key in ("ambient", "temperature"):
        bench.assume(bench.context.assumed.get(key, ""))


def _warn_of_agent(bench: Bench) -> None:
    off = bench.value("vaporizers_off")
    if off is not None and off.value == 0:
        bench.remarks.append(
            "Agent was in the gas: it adds to the volume, and a reference may read it 6 to 26 % wrongly, by the agent "
            "(PMC5429999). Turn every vaporizer off, flush the machine and read again."
        )


def _agent_free(bench: Bench) -> Unmet | None:
    off = bench.value("vaporizers_off")
    if "vaporizer" in bench.context.lacks:
        return None
    if off is None:
        return Unmet("Whether every vaporizer was off is not stated.", Reason.NOT_KNOWN, fail_stands=False)
    if off.value == 1:
        return None
    why = "A vaporizer was on: agent in the gas changes what the reference shows. Turn it off and read again."
    return Unmet(why, Reason.BLIND, fail_stands=False)


def _read_apart(bench: Bench) -> Unmet | None:
    for row in tube_rows(bench)[0]:
        if not row.reference.instrument:
            why = (
                f"Row {row.number}: no reference flowmeter is named beside the tube under test. Another tube or a wall "
                "flowmeter is none: read a calibrated instrument, and name it."
            )
            return Unmet(why, Reason.OWN_REFERENCE, fail_stands=False)
    return None


SAME_DENSITY = 0.01  # of the flow: less than a tenth of the limit; common practice, no source


def _fed_with_its_gas(bench: Bench) -> Unmet | None:
    given = conditions(bench)
    factor = true_per_shown(DENSITY[given.tube_gas], DENSITY[given.test_gas])
    if _is_calibrated(bench) or abs(factor - 1) <= SAME_DENSITY:
        return None
    why = (
        f"The tube was fed with another gas, of which it passes {factor:.3f} times what it shows: as read that is no "
        "error of the tube. Feed its own gas, or take its error at its own calibration conditions."
    )
    return Unmet(why, fail_stands=False)


LEAST_ROWS, LOWEST_READ, HIGHEST_READ = 3, 0.3, 0.7  # rows, shares of full scale; common practice, no source


def _read_over_the_scale(bench: Bench) -> Unmet | None:
    full_scale, rows = bench.value("full_scale", nominal=True), tube_rows(bench)[0]
    shares = {row.setting.value / full_scale.value for row in rows}
    if len(shares) >= LEAST_ROWS and min(shares) <= LOWEST_READ * 1.001 and max(shares) >= HIGHEST_READ * 0.999:
        return None
    why = f"From 10 % of full scale on, the tube was read at {len(shares)} settings, from {min(shares):.0%} to "
    return Unmet(f"{why}{max(shares):.0%}: read three or more, one at 30 % or less and one at 70 % or more.")


def _fine_enough(bench: Bench) -> Unmet | None:
    """The reference is good enough for the limit, at every row: its U is no wider than the limit itself."""
    judge, given = _judge(bench), conditions(bench)
    if judge is None or judge.tolerance_si is None:
        return None
    for row in tube_rows(bench)[0]:
        expanded = error_of(bench, row, given, calibrated=_is_calibrated(bench)).expanded()
        if expanded > judge.tolerance_si / 2:
            why = (
                f"Row {row.number}: the error is known to ± {expanded:.1%} only, wider than the limit itself. Take a "
                "reference that is made for so small a flow."
            )
            return Unmet(why, Reason.TOO_COARSE)
    return None


OVER_THE_SCALE = Challenge(
    "read against a named reference at three settings or more, one at 30 % of full scale or less and one at 70 % or "
    "more, every vaporizer off",
    first_unmet(_agent_free, _read_apart, _fed_with_its_gas, _read_over_the_scale, _fine_enough),
)


def _curves(bench: Bench, errors: dict[bool, Errors], low: Errors) -> tuple[Curve, ...]:
    x_unit, y_unit = bench.unit("errors", "set"), chosen_unit("%", bench.context.units) or "%"
    chosen = _is_calibrated(bench)
    found = [(NAMES[chosen], errors[chosen], "both"), (NAMES[not chosen], errors[not chosen], "points")]
    found.append(("Below 10 %, as read, not judged", low, "points"))
    series = tuple(_series(name, rows, (x_unit, y_unit), style) for name, rows, style in found if rows)
    marks = limit_marks("y", _judge(bench), y_unit)
    full_scale = bench.value("full_scale", nominal=True)
    marks.append(Mark("x", from_si(LOWEST_SHARE * full_scale.value, x_unit), "10 % of full scale", "note"))
    title = "Error of the tube over its scale"
    return (Curve("error", title, "flow set", x_unit, "error", y_unit, series, tuple(marks)),)


def _series(name: str, rows: Errors, units: tuple[str, str], style: str) -> Series:
    shown = ((from_si(row.setting.value, units[0]), interval_from_si(error.value, units[1])) for row, error in rows)
    return Series(name, tuple(sorted(shown)), style)


_JUDGED = ("worst_error",)
_SOURCE = "ISO 5358, EN 740, IEC 60601-2-13"
_LIMIT = limit(
    "worst_error", "flowmeter-10", "± 10 % of reading from 10 to 100 % of full scale", (-10, 10), "%", _SOURCE,
    "ISO 5358, EN 740, IEC 60601-2-13", FROM_MEMORY,
    note="Stated for discharge at 20 °C and 101.3 kPa, so it is of the tube at its own calibration conditions.",
)  # fmt: skip
_GASES = (
    ("oxygen", "oxygen"), ("nitrous-oxide", "nitrous oxide"), ("air", "air"), ("carbon-dioxide", "carbon dioxide"),
    ("helium", "helium"),
)  # fmt: skip
_OTHER_WAY = "It shows what the other convention would make of the same readings."
_LOW = "Below 10 % of full scale the flow past the float is laminar: no correction holds, and no limit is of it."

TEST = Test(
    code="flowmeter",
    family="flow",
    title="Flowmeter error over the scale",
    purpose="Compare one flowmeter tube with a reference flowmeter over its scale. Connect the reference to the common "
            "gas outlet with a short wide hose and let it discharge to the room, close every other gas, and read the "
            "float at eye level when it has come to rest.",
    cautions=(
        NEVER_ON_A_PATIENT,
        "Scavenge the outlet.{vaporizer| Turn every vaporizer off.}{nitrous-oxide| Where nitrous oxide cannot be "
        "scavenged, test its tube with oxygen and say so.}",
        "A reference set for one gas reads another wrongly: set it for the gas that flows.",
    ),
    readings=(
        reading("full_scale", "Full scale of the tube", Dimension.FLOW, stated=True, judges=_JUDGED,
                help="the last mark of this tube; of two tubes in series each is tested by itself"),
        observation("vaporizers_off", "Was every vaporizer off?", required=False, asked=True, judges=_JUDGED,
                    help="agent adds to the volume and misleads the reference", needs=("vaporizer",)),
        reading("division", "Smallest division of the scale", Dimension.FLOW, required=False, stated=True,
                judges=_JUDGED, help="near the lowest setting; the float is taken as set to a quarter of it"),
        reading("calibration_pressure", "Pressure of the calibration of the tube", Dimension.PRESSURE, first="kPa",
                required=False, stated=True, zero=Zero.ABSOLUTE, judges=_JUDGED,
                help="absolute, as printed on the tube; left empty: 101.325 kPa"),
        reading("calibration_temperature", "Temperature of the calibration of the tube", Dimension.TEMPERATURE,
                required=False, stated=True, judges=_JUDGED, help="as printed on the tube; left empty: 20 °C"),
        reading("reference_temperature", "Temperature to which the reference refers", Dimension.TEMPERATURE,
                required=False, stated=True, judges=_JUDGED, wanted=with_option("reference_volume", STANDARD),
                help="0, 20 or 21.1 °C, as the reference is set; at 101.325 kPa; left empty: 20 °C"),
    ),
    tables=(
        TableSpec("errors", "Flow set and flow of the reference",
                  (reading("set", "Flow set", Dimension.FLOW, stated=True, judges=_JUDGED,
                           help="at the widest place of the float, or as its manufacturer says"),
                   reading("reference", "Reference flow", Dimension.FLOW, judges=_JUDGED)), 1, 6,
                  "from below 10 % of full scale to its end, for instance 5, 10, 25, 50, 75 and 100 %; approach each "
                  "from below; a float that sticks, a tube out of plumb, or a leak at the outlet gives errors that "
                  "look like those of the tube", sets=("set",)),
    ),
    choices=(
        ChoiceSpec("convention", "Error", ((CALIBRATED, "of the tube at its own calibration conditions"),
                                           (AS_READ, "as read at the conditions of the test")), CALIBRATED),
        ChoiceSpec("tube_gas", "Gas of the tube", _GASES, "oxygen", option_needs=gas_options(_GASES)),
        ChoiceSpec("test_gas", "Gas used for the test",
                   ((OWN_GAS, "the gas of the tube"), ("oxygen", "oxygen"),
                    (OXYGEN_93, "oxygen of a concentrator, 93 %"), ("air", "air"), ("nitrous-oxide", "nitrous oxide")),
                   OWN_GAS, option_needs={"nitrous-oxide": ("nitrous-oxide",)}),
        ChoiceSpec("reference_volume", "The reference shows",
                   (("room", "the volume as it is in the room"), (STANDARD, "a standard volume at 101.325 kPa")),
                   "room"),
    ),
    rated=(),
    results=(
        ResultSpec("worst_error", "Worst error, 10 to 100 % of scale", Dimension.FRACTION, "%",
                    "(set - reference) / reference; gravest row from 10 % of full scale on", OVER_THE_SCALE,
                    needed=True),
        ResultSpec("other_error", "The same by the other convention", Dimension.FRACTION, "%",
                    "(set - reference) / reference; gravest row from 10 % of full scale on",
                    NoChallenge("it is reported only"), unjudged=_OTHER_WAY),
        ResultSpec("low_error", "Largest error below 10 % of scale", Dimension.FRACTION, "%",
                    "as read: (set - reference) / reference; laminar, not corrected",
                    NoChallenge("it is reported only"), unjudged=_LOW),
    ),
    default_limits=(_LIMIT,),
    source=f"{_SOURCE}; flow past a float, Anesthesiology 1999; 90: 555",
    evaluate=evaluate,
    pairs=(NeverCrosses("errors", "errors", "set", "reference", "More flow through a tube lifts its float higher."),),
)  # fmt: skip
