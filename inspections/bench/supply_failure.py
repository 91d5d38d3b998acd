"""Oxygen supply failure: at what oxygen pressure is another gas cut off, and when does the alarm sound.

One evaluation is for one other gas (nitrous oxide, air, ...). A shut-off kind has a trip pressure; a
proportional kind lowers the other gas with the oxygen pressure and has no single threshold.
"""

from dataclasses import dataclass, replace

from .decisions import Decision
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .errors import BenchError
from .limits import COMMON_PRACTICE, FROM_MEMORY, SEEN
from .measuring import Bench, Measured, propagate_measured
from .pictures import limit_marks, points, result_mark
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Curve, Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, reading
from .sweeps import Crossing, Sweep, find_crossing, tell_shape
from .uncertainty import Estimate

EMPTIED_FRACTION = 0.05  # an oxygen pressure at or below this share of full counts as gone
ZERO_FRACTION = 0.02  # a flow at or below this share of the set flow counts as zero


def evaluate(sheet: Sheet, context: Context) -> Evaluation:
    """Return trip, reset, hysteresis, residual flow and alarm results. Raises BenchError (see Test)."""
    bench = Bench(TEST, sheet, context)
    kind, fraction = bench.choice("kind"), _trip_fraction(bench)
    start = _start(bench)
    falling, rising = _sweep(bench, "falling", -1), _sweep(bench, "rising", +1)
    results: list[Result] = []
    curves: tuple[Curve, ...] = ()
    if start is not None and falling:
        sweeps = _Sweeps(bench, start, falling, rising, fraction)
        sweeps.compare_with(kind)
        results += sweeps.proportional() if kind == "proportional" else sweeps.shut_off()
        curves = sweeps.curves(kind, results)
    results += _alarm(bench, results)
    return Evaluation(tuple(results), curves, bench.all_remarks(), tuple(bench.missing))


def _trip_fraction(bench: Bench) -> float:
    stated = bench.value("trip_fraction", nominal=True)
    if stated is None:
        return 0.5
    if not 0.05 <= stated.value <= 0.95:
        raise BenchError(
            "trip_fraction", f"Trip flow as a fraction of the set flow: {stated.value:.1%} is outside 5 to 95 %."
        )
    return stated.value


def _start(bench: Bench) -> tuple[Measured, Measured] | None:
    pressure, flow = bench.value("full_pressure"), bench.value("set_flow")
    if flow is not None and flow.value <= 0:
        raise BenchError("set_flow", "Set flow of the other gas: a cut-off cannot be seen at 0. Set a flow above zero.")
    if pressure is not None and pressure.value <= 0:
        raise BenchError("full_pressure", "Oxygen pressure at the start: must be above zero. Start at full pressure.")
    return None if pressure is None or flow is None else (pressure, flow)


def _sweep(bench: Bench, key: str, direction: int) -> list[tuple[Measured, Measured]]:
    """Return a sweep as (pressure, flow) in the order read. Raises BenchError if the pressure turns back."""
    rows = bench.rows(key)
    for (before, earlier), (number, later) in zip(rows, rows[1:], strict=False):
        if direction * (later["pressure"].value - earlier["pressure"].value) < 0:
            word = "rise" if direction < 0 else "fall"
            raise BenchError(
                f"{key}[{number}].pressure",
                f"The {key} sweep must not {word} again: row {number} turns back from row {before}. "
                "Enter the rows in the order read, or repeat the sweep.",
            )
    return [(row["pressure"], row["flow"]) for _, row in rows]


@dataclass(slots=True)
class _Sweeps:
    """The two sweeps of one evaluation, and what follows from them."""

    bench: Bench
    start: tuple[Measured, Measured]
    falling: Sweep
    rising: Sweep
    fraction: float

    def __post_init__(self):
        if self.falling[0][0].value > self.start[0].value * (1 + 1e-9):
            raise BenchError(
                "falling[1].pressure",
                "The falling sweep starts above the oxygen pressure at the start. Correct one of them.",
            )
        self.falling = [self.start, *self.falling]

    @property
    def lowest(self) -> tuple[Measured, Measured]:
        return self.falling[-1]

    def compare_with(self, kind: str) -> None:
        """Remark on a curve that does not look like the kind that was chosen."""
        pressure, flow = self.start
        shape = tell_shape(
            [p.value / pressure.value for p, _ in self.falling], [q.value / flow.value for _, q in self.falling]
        )
        if shape is None:
            self.bench.remarks.append("The readings do not show whether the device shuts off or reduces the other gas.")
        elif shape == kind:
            self.bench.remarks.append(f"The curve looks like a {kind} device, as chosen.")
        else:
            self.bench.remarks.append(
                f"The curve looks like a {shape} device, but {kind} was chosen. Check the kind of device before "
                "relying on this result."
            )

    def shut_off(self) -> list[Result]:
        """Return trip, reset, hysteresis and residual flow of a shut-off kind."""
        trip = find_crossing(self.falling, self.fraction * self.start[1].value)
        if trip is None:
            return self._never_tripped()
        note = (
            ""
            if trip.is_clean
            else "The flow crossed the trip flow more than once; the uncertainty covers every crossing."
        )
        results = [self.bench.result("trip_pressure", trip.estimate, remark=note)]
        results += self._reset(trip)
        results.append(self._residual())
        return results

    def _residual(self) -> Result:
        pressure, flow = self.lowest
        unit = self.bench.unit("falling", "pressure")
        return self.bench.result(
            "residual_flow", flow.estimate, remark=f"Read at {from_si(pressure.value, unit):.3g} {unit} oxygen."
        )

    def _never_tripped(self) -> list[Result]:
        """Return a failed trip if the sweep went below the lower limit without a trip, else ask for more."""
        pressure, _ = self.lowest
        unit = self.bench.unit("falling", "pressure")
        judge = self.bench.limit("trip_pressure")
        words = f"The other gas was not cut off down to {from_si(pressure.value, unit):.4g} {unit}"
        is_below = judge and judge.lower_si is not None and pressure.value <= judge.lower_si
        if judge is None and self._is_emptied():
            self.bench.remarks.append(f"{words}.")
            return [self._residual()]
        if not is_below and not self._is_emptied():
            self.bench.missing.append(f"{words}: continue the falling sweep until the flow has fallen")
            return []
        result = self.bench.result("trip_pressure", pressure.estimate)
        remark = f"{words}, the lowest pressure read. The value shown is that pressure; any trip pressure is below it."
        return [replace(result, decision=Decision.FAIL, remark=remark)]

    def _is_emptied(self) -> bool:
        """Whether the sweep went so low that no oxygen pressure was left to hold the other gas open."""
        return self.lowest[0].value <= EMPTIED_FRACTION * self.start[0].value

    def _reset(self, trip: Crossing) -> list[Result]:
        if not self.rising:
            self.bench.remarks.append("No rising sweep: reset pressure and hysteresis are not known.")
            return []
        threshold = self.fraction * self.start[1].value
        reset = find_crossing(list(reversed(self.rising)), threshold)
        if reset is None:
            self._explain_no_reset(threshold)
            return []
        hysteresis = reset.minus(trip)
        below = hysteresis.value + hysteresis.expanded() < 0
        remark = "The flow returned below the trip pressure; check for a slow gauge or a leak." if below else ""
        return [
            self.bench.result("reset_pressure", reset.estimate),
            self.bench.result("hysteresis", hysteresis, remark=remark),
        ]

    def _explain_no_reset(self, threshold: float) -> None:
        if self.rising[0][1].value >= threshold:
            self.bench.missing.append("Rising sweep: start it below the reset pressure, with the other gas cut off")
        elif self.rising[-1][0].value < self.start[0].value * 0.95:
            self.bench.missing.append("Rising sweep: continue until the flow has returned")
        else:
            self.bench.remarks.append("The other gas had not returned at full oxygen pressure: the device sticks.")

    def proportional(self) -> list[Result]:
        """Return the largest deviation from proportion and the pressure at which the flow is zero."""
        results = [self._deviation()]
        zero = find_crossing(self.falling, ZERO_FRACTION * self.start[1].value)
        if zero is None and self._is_emptied():
            self.bench.remarks.append("The other gas was still flowing when the oxygen pressure was gone.")
            return [*results, self._residual()]
        if zero is None:
            self.bench.missing.append("Falling sweep: continue until the other gas has stopped")
            return results
        return [*results, self.bench.result("zero_pressure", zero.estimate), self._residual()]

    def _deviation(self) -> Result:
        worst = max((self._excess(p, q) for p, q in self.falling[1:]), key=lambda estimate: estimate.value)
        return self.bench.result("proportion_deviation", worst)

    def _excess(self, pressure: Measured, flow: Measured) -> Estimate:
        full_pressure, set_flow = self.start
        return propagate_measured(lambda q, q0, p, p0: q / q0 - p / p0, (flow, set_flow, pressure, full_pressure))

    def curves(self, kind: str, results: list[Result]) -> tuple[Curve, ...]:
        """Return flow against oxygen pressure, and for a proportional kind ratio against ratio."""
        x_unit, y_unit = self.bench.unit("falling", "pressure"), self.bench.unit("falling", "flow")
        marks = []
        for result in results:
            if result.key in ("trip_pressure", "zero_pressure"):
                marks += [result_mark("x", result, x_unit), *limit_marks("x", result.limit, x_unit)]
            if result.key == "reset_pressure":
                marks.append(result_mark("x", result, x_unit))
        series = [points("falling", self.falling, x_unit, y_unit)]
        if self.rising:
            series.append(points("rising", self.rising, x_unit, y_unit))
        sweep = Curve(
            "sweep", "Flow of the other gas against oxygen pressure", "oxygen pressure", x_unit,
            "flow of the other gas", y_unit, tuple(series), tuple(marks),
        )  # fmt: skip
        return (sweep, self._ratio_curve()) if kind == "proportional" else (sweep,)

    def _ratio_curve(self) -> Curve:
        pressure, flow = self.start
        ratios = [(Measured(p.value / pressure.value), Measured(q.value / flow.value)) for p, q in self.falling]
        ends = [(Measured(0.0), Measured(0.0)), (Measured(1.0), Measured(1.0))]
        return Curve(
            "proportion", "Flow ratio against pressure ratio", "oxygen pressure, % of full pressure", "%",
            "flow of the other gas, % of set flow", "%",
            (points("as read", ratios, "%", "%"), replace(points("in proportion", ends, "%", "%"), style="line")),
        )  # fmt: skip


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
        "proportion_deviation", "proportion-10", "At most 10 % of set flow above proportional", (None, 10), "%",
        "common practice, no source", "-", COMMON_PRACTICE,
        note=f"That the other gas must be reduced in proportion: {_USTB}. The 10 % is a starting point.",
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

_SWEEP_COLUMNS = (
    reading("pressure", "Oxygen pressure", Dimension.PRESSURE),
    reading("flow", "Flow of the other gas", Dimension.FLOW),
)

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
        "Vent the gases used outside the room or into the scavenging system.",
    ),
    readings=(
        reading("full_pressure", "Oxygen pressure at the start", Dimension.PRESSURE, help="full working pressure"),
        reading("set_flow", "Flow of the other gas at the start", Dimension.FLOW, help="set at full oxygen pressure"),
        reading("trip_fraction", "Trip flow as a fraction of the set flow", Dimension.FRACTION, required=False,
                stated=True, help="50 % unless the manufacturer states another value"),
        reading("alarm_pressure", "Oxygen pressure when the alarm sounds", Dimension.PRESSURE, required=False),
        reading("alarm_delay", "Alarm delay", Dimension.TIME, required=False,
                help="from the pressure falling below the manufacturer's threshold until the alarm sounds"),
        reading("alarm_duration", "Alarm duration", Dimension.TIME, required=False),
    ),
    tables=(
        TableSpec("falling", "Falling sweep", _SWEEP_COLUMNS, 2, 8,
                  "lower the oxygen pressure in small steps; do not raise it in between"),
        TableSpec("rising", "Rising sweep", _SWEEP_COLUMNS, 0, 8, "raise the oxygen pressure again from below cut-off"),
    ),
    choices=(
        ChoiceSpec("kind", "Kind of device",
                   (("shut-off", "shuts off the other gas"),
                    ("proportional", "reduces the other gas in proportion")), "shut-off"),
    ),
    rated=(),
    results=(
        ResultSpec("trip_pressure", "Trip pressure", Dimension.PRESSURE, "psi",
                    "gauge; oxygen falling; interpolated at the stated fraction of the set flow"),
        ResultSpec("reset_pressure", "Reset pressure", Dimension.PRESSURE, "psi",
                    "gauge; oxygen rising; interpolated at the stated fraction of the set flow"),
        ResultSpec("hysteresis", "Hysteresis", Dimension.PRESSURE, "psi", "reset pressure minus trip pressure"),
        ResultSpec("residual_flow", "Residual flow after cut-off", Dimension.FLOW, "mL/min",
                    "read at the lowest oxygen pressure of the falling sweep"),
        ResultSpec("zero_pressure", "Oxygen pressure at which the other gas has stopped", Dimension.PRESSURE, "psi",
                    "gauge; oxygen falling; flow at 2 % of the set flow"),
        ResultSpec("proportion_deviation", "Largest excess above proportional", Dimension.FRACTION, "%",
                    "largest value of flow ratio minus pressure ratio on the falling sweep; positive: too much other "
                    "gas"),
        ResultSpec("alarm_pressure", "Alarm pressure", Dimension.PRESSURE, "psi", "gauge; as read"),
        ResultSpec("alarm_delay", "Alarm delay", Dimension.TIME, "s", "as timed"),
        ResultSpec("alarm_duration", "Alarm duration", Dimension.TIME, "s", "as timed"),
    ),
    default_limits=_LIMITS,
    source=f"{_USTB}; {_ASA}; Anaesthesia 2012; 67: 660-68",
    evaluate=evaluate,
)  # fmt: skip
