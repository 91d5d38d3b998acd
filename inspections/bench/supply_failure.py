"""Oxygen supply failure: at what oxygen pressure is another gas cut off, and when does the alarm sound.

One evaluation is for one other gas (nitrous oxide, air, ...). A shut-off kind has a trip pressure; a
proportional kind lowers the other gas with the oxygen pressure and has no single threshold.
"""

from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .impossible import NeverAbove, NeverCrosses
from .limits import COMMON_PRACTICE, FROM_MEMORY, SEEN
from .measuring import Bench
from .oxygen_sweeps import PROPORTIONAL, SHUT_OFF, UNKNOWN, read_sweeps
from .quantities import Dimension
from .readings import Sheet
from .results import Curve, Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, reading, with_option
from .supply_challenges import (
    ALARM_PRESSURE,
    DEVIATION,
    DIFFERENCE,
    RESET,
    RESIDUAL,
    RETURN,
    SOUNDED,
    TRIP,
)


def evaluate(sheet: Sheet, context: Context) -> Evaluation:
    """Return trip, reset, hysteresis, residual flow and alarm results. Raises BenchError (see Test)."""
    bench = Bench(TEST, sheet, context)
    sweeps = read_sweeps(bench)
    results: list[Result] = []
    curves: tuple[Curve, ...] = ()
    if sweeps is not None:
        sweeps.remark_on_kind()
        results += sweeps.proportional() if sweeps.kind == PROPORTIONAL else sweeps.shut_off()
        curves = sweeps.curves(results)
    results += _alarm(bench, results)
    return bench.finish(results, curves)


def _is_of_kind(kind: str):
    def check(bench: Bench) -> bool:
        sweeps = read_sweeps(bench)
        return sweeps is not None and sweeps.kind == kind

    return check


def _has_tripped(bench: Bench) -> bool:
    """Whether a device of the shut-off kind cut the other gas off: one that did not has nothing to reset."""
    sweeps = read_sweeps(bench)
    return sweeps is not None and sweeps.kind == SHUT_OFF and sweeps.trip is not None


def _alarm(bench: Bench, results: list[Result]) -> list[Result]:
    found = []
    for key in ("alarm_pressure", "alarm_delay", "alarm_duration"):
        measured = bench.value(key)
        if measured is not None:
            found.append(bench.result(key, measured.estimate))
    trip = next((one for one in results if one.key == "trip_pressure"), None)
    alarm = next((one for one in found if one.key == "alarm_pressure"), None)
    if trip and alarm and alarm.value_si < trip.value_si:
        bench.remarks.append(
            "The alarm sounded only after the other gas was cut off: it should sound before or at the same time."
        )
    return found


_ASA = "ASA Monitor 79(9):52"
_USTB = "US anaesthesia textbook, 6th ed., delivery systems, p. 231"

_LIMITS = (
    limit(
        "trip_pressure", "trip-25", "Cut-off at 25 psi: 20 to 30 psi", (20, 30), "psi",
        f"set point common practice; lower end {_ASA}; upper end alarm threshold in {_USTB}", "2015; 6th ed.",
        COMMON_PRACTICE,
        note="Other gases flow at 25 psi and above and are cut off below it. The manufacturer's set point comes first.",
    ),
    limit(
        "trip_pressure", "trip-200-kpa", "Cut-off near 200 kPa: 180 to 220 kPa", (180, 220), "kPa",
        "accounts of older British practice (BS 4272); the tolerance is common practice", "BS 4272", FROM_MEMORY,
    ),
    limit(
        "residual_flow", "residual-100", "No more than 100 mL/min after cut-off", (None, 100), "mL/min",
        "common practice, no source", "-", COMMON_PRACTICE,
        note="The other gas must stop; no published value was found. 100 mL/min is about the smallest division of a "
             "flowmeter tube.",
    ),
    limit(
        "returned_share", "returned-80", "At least 80 % of the set flow returns", (80, None), "%",
        "common practice, no source", "-", COMMON_PRACTICE,
        note="A device that stays shut when oxygen returns has stuck; no published value was found.",
    ),
    limit(
        "proportion_deviation", "proportion-10", "At most 10 % of set flow above proportional", (None, 10), "%",
        "common practice, no source", "-", COMMON_PRACTICE,
        note=f"That the other gas must be reduced in proportion: {_USTB}. In proportion is judged by the absolute "
             "pressure, which the flow through a needle follows. The 10 % is a starting point.",
    ),
    limit(
        "alarm_pressure", "alarm-30", "Alarm at about 30 psi: 25 to 35 psi", (25, 35), "psi", _USTB, "6th ed.", SEEN,
        note="The book gives about 30 psi for older pneumatic alarms; the tolerance of 5 psi is common practice.",
    ),
    limit(
        "alarm_pressure", "alarm-200-kpa", "Alarm near 200 kPa: 180 to 220 kPa", (180, 220), "kPa",
        "accounts of older British practice (BS 4272); the tolerance is common practice", "BS 4272", FROM_MEMORY,
    ),
    limit(
        "alarm_delay", "astm-f1850-5s", "Alarm within 5 s", (None, 5), "s", f"ASTM F1850, quoted in {_USTB}",
        "F1850-00", SEEN,
    ),
    limit(
        "alarm_duration", "aagbi12-7s", "Alarm sounds for at least 7 s", (7, None), "s",
        "Checking Anaesthetic Equipment, Anaesthesia 2012; 67: 660-68", "2012", SEEN,
    ),
)  # fmt: skip

_SWEPT = ("trip_pressure", "reset_pressure", "residual_flow", "proportion_deviation", "returned_share")
_SWEEP_COLUMNS = (
    reading("pressure", "Oxygen pressure", Dimension.PRESSURE, judges=_SWEPT),
    reading("flow", "Flow of the other gas", Dimension.FLOW, judges=_SWEPT),
)

_LESS_OXYGEN = "Less oxygen pressure never lets more of the other gas through."
_PAIRS = (
    NeverAbove(("falling", "flow"), ("set_flow", ""), "Nothing opens further as the oxygen pressure falls.", 0.1),
    NeverCrosses("falling", "falling", "pressure", "flow", _LESS_OXYGEN),
    NeverCrosses("rising", "rising", "pressure", "flow", _LESS_OXYGEN),
    NeverCrosses(
        "rising", "falling", "pressure", "flow",
        "Friction makes a device open again at a higher oxygen pressure than it shut at, never at a lower one.",
    ),
)  # fmt: skip

TEST = Test(
    code="supply-failure",
    family="supply failure",
    title="Oxygen supply-failure protection",
    purpose="Measure the oxygen pressure at which the other gas is cut off or reduced, and the pressure at which the "
            "alarm sounds.",
    cautions=(
        NEVER_ON_A_PATIENT,
        "A pass shows that the device responds to loss of pressure. It does not show that the gas is oxygen, nor "
        "that the ratio of "
        "gases is safe at normal pressure: those are other tests.",
        "Vent the gases used outside the room{scavenging| or into the scavenging system}.",
    ),
    readings=(
        reading("full_pressure", "Oxygen pressure at the start", Dimension.PRESSURE, help="full working pressure",
                judges=_SWEPT),
        reading("set_flow", "Flow of the other gas at the start", Dimension.FLOW, help="set at full oxygen pressure",
                judges=_SWEPT),
        reading("trip_fraction", "Trip flow as a fraction of the set flow", Dimension.FRACTION, required=False,
                stated=True, help="50 % unless the manufacturer states another value",
                judges=("trip_pressure", "reset_pressure"), wanted=with_option("kind", UNKNOWN, SHUT_OFF)),
        reading("alarm_pressure", "Oxygen pressure when the alarm sounds", Dimension.PRESSURE, required=False,
                judges=("alarm_pressure",)),
        reading("alarm_delay", "Alarm delay", Dimension.TIME, required=False,
                help="from the pressure falling below the manufacturer's threshold until the alarm sounds",
                judges=("alarm_delay",)),
        reading("alarm_duration", "Alarm duration", Dimension.TIME, required=False, judges=("alarm_duration",)),
    ),
    tables=(
        TableSpec("falling", "Falling sweep", _SWEEP_COLUMNS, 2, 8,
                  "lower the oxygen pressure in small steps, for a device in proportion until none is left; do not "
                  "raise it in between", sets=("pressure",)),
        TableSpec("rising", "Rising sweep", _SWEEP_COLUMNS, 0, 8,
                  "raise the oxygen pressure again from below cut-off to the full pressure", is_expected=True,
                  sets=("pressure",)),
    ),
    choices=(
        ChoiceSpec("kind", "Kind of device",
                   ((UNKNOWN, "not known"), (SHUT_OFF, "shuts off the other gas"),
                    (PROPORTIONAL, "reduces the other gas in proportion")), UNKNOWN),
    ),
    rated=(),
    results=(
        ResultSpec("trip_pressure", "Trip pressure", Dimension.PRESSURE, "psi",
                    "gauge; oxygen falling; interpolated at the stated fraction of the set flow", TRIP,
                    needed=_is_of_kind(SHUT_OFF)),
        ResultSpec("reset_pressure", "Reset pressure", Dimension.PRESSURE, "psi",
                    "gauge; oxygen rising; interpolated at the stated fraction of the set flow", RESET,
                    needed=_has_tripped, own_limit=True),
        ResultSpec("hysteresis", "Hysteresis", Dimension.PRESSURE, "psi", "reset pressure minus trip pressure",
                    DIFFERENCE,
                    unjudged="No published limit; the two pressures that it is made of are judged."),
        ResultSpec("residual_flow", "Residual flow after cut-off", Dimension.FLOW, "mL/min",
                    "read at the lowest oxygen pressure of the falling sweep", RESIDUAL, needed=True),
        ResultSpec("returned_share", "Flow that came back with the oxygen", Dimension.FRACTION, "%",
                    "flow at the highest pressure of the rising sweep, as a share of the set flow", RETURN,
                    needed=_is_of_kind(PROPORTIONAL)),
        ResultSpec("zero_pressure", "Oxygen pressure at which the other gas has stopped", Dimension.PRESSURE, "psi",
                    "gauge; oxygen falling; flow at 2 % of the set flow", DIFFERENCE,
                    unjudged="No published limit; the residual flow and the deviation from proportion are judged."),
        ResultSpec("proportion_deviation", "Largest excess above proportional", Dimension.FRACTION, "%",
                    "largest value, over both sweeps, of flow as a share of the set flow minus the share that the "
                    "absolute pressure gives through a needle; positive: too much other gas", DEVIATION,
                    needed=_is_of_kind(PROPORTIONAL)),
        ResultSpec("alarm_pressure", "Alarm pressure", Dimension.PRESSURE, "psi", "gauge; as read", ALARM_PRESSURE),
        ResultSpec("alarm_delay", "Alarm delay", Dimension.TIME, "s", "as timed", SOUNDED),
        ResultSpec("alarm_duration", "Alarm duration", Dimension.TIME, "s", "as timed", SOUNDED),
    ),
    default_limits=_LIMITS,
    source=f"{_USTB}; {_ASA}; Anaesthesia 2012; 67: 660-68",
    evaluate=evaluate,
    pairs=_PAIRS,
)  # fmt: skip
