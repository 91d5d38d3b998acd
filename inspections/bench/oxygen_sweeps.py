"""The two sweeps of oxygen pressure of a supply-failure test, and what follows from them."""

from dataclasses import dataclass, field, replace

from .errors import BenchError
from .judging import failed_result
from .limits import COMMON_PRACTICE, Limit
from .measuring import Bench
from .needle import needle_share
from .pictures import limit_marks, points, result_mark
from .propagation import Measured, propagate_measured
from .quantities import from_si
from .results import Curve, Result
from .specs import limit
from .sweeps import Crossing, Sweep, find_crossing, tell_shape
from .uncertainty import Estimate

EMPTIED_FRACTION = 0.05  # an oxygen pressure at or below this share of full counts as gone
ZERO_FRACTION = 0.02  # a flow at or below this share of the set flow counts as zero
RETURNED_FRACTION = 0.95  # an oxygen pressure at or above this share of full counts as returned
NOT_CUT_OFF = "was not cut off"  # in the remark of a failed trip: the value shown is then no trip pressure
SHUT_OFF, PROPORTIONAL, UNKNOWN = "shut-off", "proportional", "unknown"


def read_sweeps(bench: Bench) -> "Sweeps | None":
    """Return the sweeps of a sheet, None while start or falling sweep are missing. Raises BenchError."""
    return bench.once("sweeps", lambda: _read_sweeps(bench))


def _read_sweeps(bench: Bench) -> "Sweeps | None":
    fraction, start = _trip_fraction(bench), _start(bench)
    falling, rising = _sweep(bench, "falling", -1), _sweep(bench, "rising", +1)
    return Sweeps(bench, start, falling, rising, fraction) if start is not None and falling else None


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
class Sweeps:
    """The two sweeps of one evaluation, and what follows from them.

    kind   the kind by which they are judged
    shape  the kind that the falling curve looks like, None where it shows neither
    """

    bench: Bench
    start: tuple[Measured, Measured]
    falling: Sweep
    rising: Sweep
    fraction: float
    chosen: str = field(init=False)
    shape: str | None = field(init=False)

    def __post_init__(self):
        if self.falling[0][0].value > self.start[0].value * (1 + 1e-9):
            raise BenchError(
                "falling[1].pressure",
                "The falling sweep starts above the oxygen pressure at the start. Correct one of them.",
            )
        self.falling = [self.start, *self.falling]
        pressure, flow = self.start
        self.shape = tell_shape(
            [p.value / pressure.value for p, _ in self.falling], [q.value / flow.value for _, q in self.falling]
        )
        self.chosen = self.bench.choice("kind")

    @property
    def kind(self) -> str:
        """Return the kind chosen; of an unknown one what the curve looks like, else shut-off, the stricter."""
        if self.chosen != UNKNOWN:
            return self.chosen
        return self.shape or SHUT_OFF

    @property
    def lowest(self) -> tuple[Measured, Measured]:
        return self.falling[-1]

    @property
    def trip(self) -> Crossing | None:
        return find_crossing(self.falling, self.fraction * self.start[1].value)

    @property
    def reset(self) -> Crossing | None:
        return find_crossing(list(reversed(self.rising)), self.fraction * self.start[1].value)

    def share(self, pressure: float, full: float) -> float:
        """Return what a device in proportion lets through at a pressure, as a share of its flow at full pressure."""
        return needle_share(pressure, full, self.bench.context.ambient_pa_abs)

    def remark_on_kind(self) -> None:
        """Remark on a curve that does not look like the kind that was chosen, and say what was assumed."""
        if self.chosen == UNKNOWN:
            seen = "the curve looks like one" if self.shape else "the readings do not show it; this is the stricter"
            self.bench.assume(f"the device is of the {self.kind} kind; {seen}.")
        elif self.shape is None:
            self.bench.remarks.append("The readings do not show whether the device shuts off or reduces the other gas.")
        elif self.shape == self.chosen:
            self.bench.remarks.append(f"The curve looks like a {self.chosen} device, as chosen.")
        else:
            self.bench.remarks.append(
                f"The curve looks like a {self.shape} device, but {self.chosen} was chosen. Check the kind of device "
                "before relying on this result."
            )

    def shut_off(self) -> list[Result]:
        """Return trip, reset, hysteresis and residual flow of a shut-off kind."""
        if self.trip is None:
            return self._never_tripped()
        note = (
            ""
            if self.trip.is_clean
            else "The flow crossed the trip flow more than once; the uncertainty covers every crossing."
        )
        return [
            self.bench.result("trip_pressure", self.trip.estimate, remark=note),
            *self._reset(self.trip),
            self._residual(),
            *self._returned(),
        ]

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
        words = f"The other gas {NOT_CUT_OFF} down to {from_si(pressure.value, unit):.4g} {unit}"
        is_below = judge and judge.lower_si is not None and pressure.value <= judge.lower_si
        if not is_below and not self.is_emptied:
            self.bench.missing.append(f"{words}: continue the falling sweep until the flow has fallen")
            return []
        result = self.bench.result("trip_pressure", pressure.estimate)
        remark = f"{words}, the lowest pressure read. The value shown is that pressure; any trip pressure is below it."
        return [failed_result(result, remark), self._residual()]

    @property
    def is_emptied(self) -> bool:
        """Whether the sweep went so low that no oxygen pressure was left to hold the other gas open."""
        return self.lowest[0].value <= EMPTIED_FRACTION * self.start[0].value

    @property
    def is_returned(self) -> bool:
        """Whether the rising sweep reached the full oxygen pressure again."""
        return bool(self.rising) and self.rising[-1][0].value >= RETURNED_FRACTION * self.start[0].value

    def _reset(self, trip: Crossing) -> list[Result]:
        if not self.rising:
            self.bench.remarks.append("No rising sweep: reset pressure and hysteresis are not known.")
            return []
        reset = self.reset
        if reset is None:
            return self._never_reset()
        hysteresis = reset.minus(trip)
        below = hysteresis.value + hysteresis.expanded() < 0
        remark = "The flow returned below the trip pressure; check for a slow gauge or a leak." if below else ""
        return [
            self.bench.result("reset_pressure", reset.estimate, limit=self._returns_by_full()),
            self.bench.result("hysteresis", hysteresis, remark=remark),
        ]

    def _returns_by_full(self) -> Limit:
        full, unit = self.start[0].value, self.bench.unit("falling", "pressure")
        return limit(
            "reset_pressure", "returns-by-full", "Other gas returns before full oxygen pressure",
            (None, from_si(full, unit)), unit,
            "reset only by restoring the oxygen pressure: national society requirements, Kenya; that it must have "
            "happened at full pressure is common practice", "-", COMMON_PRACTICE,
        )  # fmt: skip

    def _never_reset(self) -> list[Result]:
        threshold = self.fraction * self.start[1].value
        if self.rising[0][1].value >= threshold:
            self.bench.missing.append("Rising sweep: start it below the reset pressure, with the other gas cut off")
        elif not self.is_returned:
            self.bench.missing.append("Rising sweep: continue until the flow has returned")
        else:
            highest, words = self.rising[-1][0], "The other gas had not returned at full oxygen pressure"
            result = self.bench.result("reset_pressure", highest.estimate, limit=self._returns_by_full())
            remark = f"{words}: the device sticks. The value shown is the highest pressure read."
            return [failed_result(result, remark)]
        return []

    def _returned(self) -> list[Result]:
        """Return how much of the set flow came back with the oxygen, if it came back so far."""
        if not self.is_returned:
            return []
        share = propagate_measured(lambda flow, before: flow / before, (self.rising[-1][1], self.start[1]))
        return [self.bench.result("returned_share", share)]

    def proportional(self) -> list[Result]:
        """Return the largest deviation from proportion and the pressure at which the flow is zero."""
        results = [self._deviation()]
        zero = find_crossing(self.falling, ZERO_FRACTION * self.start[1].value)
        if zero is None and not self.is_emptied:
            self.bench.missing.append("Falling sweep: continue until the other gas has stopped")
            return results
        if zero is None:
            self.bench.remarks.append("The other gas was still flowing when the oxygen pressure was gone.")
        else:
            results.append(self.bench.result("zero_pressure", zero.estimate))
        return [*results, self._residual(), *self._returned()]

    def _deviation(self) -> Result:
        read = (*self.falling[1:], *self.rising)
        worst = max((self._excess(p, q) for p, q in read), key=lambda estimate: estimate.value)
        return self.bench.result("proportion_deviation", worst)

    def _excess(self, pressure: Measured, flow: Measured) -> Estimate:
        full_pressure, set_flow = self.start
        return propagate_measured(
            lambda q, q0, p, p0, ambient: q / q0 - needle_share(p, p0, ambient),
            (flow, set_flow, pressure, full_pressure, self.bench.ambient),
        )

    def curves(self, results: list[Result]) -> tuple[Curve, ...]:
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
        return (sweep, self._ratio_curve()) if self.kind == PROPORTIONAL else (sweep,)

    def _ratio_curve(self) -> Curve:
        pressure, flow = self.start
        ratios = [(Measured(p.value / pressure.value), Measured(q.value / flow.value)) for p, q in self.falling]
        law = [(Measured(n / 40), Measured(self.share(pressure.value * n / 40, pressure.value))) for n in range(41)]
        return Curve(
            "proportion", "Flow ratio against pressure ratio", "oxygen pressure relative to full pressure", "%",
            "flow of the other gas relative to set flow", "%",
            (points("as read", ratios, "%", "%"), replace(points("in proportion", law, "%", "%"), style="line")),
        )  # fmt: skip
