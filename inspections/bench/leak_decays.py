"""The leak that a pressure decay shows: as mean, at the test pressure, as ambient and as standard volume."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from math import sqrt

from .capacity import Capacity, DecayReadings
from .decay import Fit, fit_better, fit_decay, standard_flow
from .leak_challenges import TEST_PRESSURES
from .measuring import Bench
from .pictures import points
from .propagation import Budget, budget, propagate_measured
from .quantities import from_si
from .results import Curve, Mark, Result, Series
from .uncertainty import RECTANGULAR, Estimate, Shaped, combined


def emptied(bench: Bench, decay: DecayReadings, capacity: Capacity, at: str) -> list[Result]:
    """Return the least leak of a system that was empty at the second reading already."""
    if capacity.needs_fit:
        bench.missing.append("The system was empty at once, so the decay cannot give the capacity: state it")
        return []
    least, standard = _until_empty(bench, decay, capacity, None)
    bench.remarks.append("The system was empty before a second pressure was read: its leak is larger than shown.")
    text = f"at least, from {at} until empty; ambient volume; {capacity.text}"
    return both(bench, "leak", least, standard, text)


def _until_empty(bench: Bench, decay: DecayReadings, capacity: Capacity, fit: Fit | None) -> tuple[Estimate, Estimate]:
    """Return the mean leak up to the first reading without pressure, and as standard volume; at the start it is larger.

    A decay that gives the capacity itself is fitted anew for each set of values.
    """
    end, flat = decay.empty_at, len(decay.flat)

    def mean(ambient: float, kelvin: float, *values: float) -> float:
        times, pressures = decay.unpack(values[:flat])
        refitted = fit and fit_decay(fit.kind, times, pressures)
        return capacity.of(values[flat:], refitted, ambient) * pressures[0] / (times[end] - times[0])

    def standard(ambient: float, kelvin: float, *values: float) -> float:
        return standard_flow(mean(ambient, kelvin, *values), ambient, kelvin)

    read = (bench.ambient, bench.ambient_kelvin, *decay.flat, *capacity.measured)
    return propagate_measured(mean, read), propagate_measured(standard, read)


def both(bench: Bench, key: str, leak: Estimate, standard: Estimate, convention: str) -> list[Result]:
    """Return the results of a leak as ambient volume and at 20 °C and 101.325 kPa."""
    at_standard = convention.replace("ambient volume", "volume at 20 °C and 101.325 kPa")
    return [
        bench.result(key, leak, convention=convention),
        bench.result(f"{key}_standard", standard, convention=at_standard),
    ]


def falls(bench: Bench, decay: DecayReadings) -> bool:
    """Return whether the pressure falls or holds; a rise beyond its uncertainty cannot be a leak outwards."""

    def rise(*values: float) -> float:
        pressures = decay.unpack(values)[1]
        return pressures[-1] - pressures[0]

    change = propagate_measured(rise, decay.flat)
    if change.value > max(2 * change.std_uncertainty, 1e-9 * decay.pressures[0].value):
        bench.missing.append(
            "Pressure rose: gas is entering or warming up. Close all flows, let the pressure settle, and repeat"
        )
        return False
    return True


@dataclass(frozen=True, slots=True)
class _State:
    """The system for one set of values: m3/Pa, Pa/s at the test pressure, Pa/s over the decay, Pa absolute, K."""

    capacity: float
    target_fall: float
    mean_fall: float
    ambient: float
    kelvin: float


def _at_target(now: _State) -> float:
    return now.capacity * now.target_fall


def _mean(now: _State) -> float:
    return now.capacity * now.mean_fall


@dataclass(slots=True)
class Decay:
    """A decay with its capacity: leak as mean and at the test pressure."""

    bench: Bench
    readings: DecayReadings
    capacity: Capacity
    at: str
    fit: Fit = field(init=False)
    other: Fit = field(init=False)
    is_told: bool = field(init=False)
    _known_capacity: Estimate | None = field(init=False, default=None)

    def __post_init__(self):
        self.fit, self.other, self.is_told = fit_better(*self.readings.plain)

    def results(self) -> list[Result]:
        """Return mean leak, leak at the test pressure, both as ambient and standard volume, and the capacity."""
        if self.capacity.text.startswith("make-up") and self.fit.rate <= 0:
            self.bench.missing.append(
                "Pressure did not fall, so the make-up flow cannot give the capacity: enter a stated capacity"
            )
            return []
        self._remark()
        mean_text = (
            f"mean over the decay from {self.readings.pressures[0].value / 1000:.3g} to "
            f"{self.readings.pressures[-1].value / 1000:.3g} kPa; ambient volume; {self.capacity.text}"
        )
        full_text = (
            f"at {self.at}{' of suction' if self.readings.sign < 0 else ''}, {self.fit.kind} leak; ambient volume; "
            f"{self.capacity.text}"
        )
        return [
            *self._at_test_pressure(full_text),
            *both(self.bench, "leak_mean", self._leak(_mean), self._leak(_mean, standard=True), mean_text),
            self.bench.result("capacity", self._capacity()),
            self.bench.result("effective_volume", self._propagate(lambda now: now.capacity * now.ambient).estimate),
        ]

    def _at_test_pressure(self, text: str) -> list[Result]:
        """Return the leak at the test pressure; a system that was empty soon leaked at least its mean until then."""
        leak, standard = self._leak(_at_target), self._leak(_at_target, standard=True)
        if self.readings.empty_at is not None:
            least, least_standard = _until_empty(self.bench, self.readings, self.capacity, self.fit)
            if least.value > leak.value:
                leak, standard = least, least_standard
        return both(self.bench, "leak", leak, standard, text)

    def _propagate(self, of: Callable[["_State"], float]) -> Budget:
        """Return a function of the state with the uncertainty of readings and surroundings."""
        count = len(self.readings.flat)
        target = TEST_PRESSURES[self.at]

        def function(*values: float) -> float:
            times, pressures = self.readings.unpack(values[:count])
            fit = fit_decay(self.fit.kind, times, pressures)
            capacity = self.capacity.of(values[count:-2], fit, values[-2])
            mean_fall = (pressures[0] - pressures[-1]) / (times[-1] - times[0])
            return of(_State(capacity, fit.fall_rate(target), mean_fall, values[-2], values[-1]))

        read = (*self.readings.flat, *self.capacity.measured, self.bench.ambient, self.bench.ambient_kelvin)
        return budget(function, read)

    def _capacity(self) -> Estimate:
        """Return the capacity; each leak asks for it, so that it is worked out once."""
        if self._known_capacity is None:
            self._known_capacity = self._propagate(lambda now: now.capacity).estimate
        return self._known_capacity

    def _leak(self, of: Callable[["_State"], float], *, standard: bool = False) -> Estimate:
        """Return a leak; at the test pressure, scatter and (if the readings do not determine the model) the choice of
        model add to its uncertainty."""

        def flow(now: _State) -> float:
            return standard_flow(of(now), now.ambient, now.kelvin) if standard else of(now)

        leak = self._propagate(flow)
        if of is not _at_target:
            return leak.estimate
        target, context = TEST_PRESSURES[self.at], self.bench.context
        scale = self._capacity().value
        if standard:
            scale = standard_flow(scale, context.ambient_pa_abs, context.temperature_k)
        scatter = Estimate(0.0, scale * self.fit.fall_rate_std(target), self.fit.dof)
        apart = scale * abs(self.fit.fall_rate(target) - self.other.fall_rate(target))
        model = Estimate(0.0) if self.is_told else Shaped(0.0, apart / sqrt(3), excess=RECTANGULAR)
        return combined(leak.value, (leak.with_scatter(scatter), model))

    def _remark(self) -> None:
        told = (
            f"its RMS deviation from the readings is {self.fit.misfit:.2g} Pa, for {self.other.kind} "
            f"{self.other.misfit:.2g} Pa"
            if self.is_told
            else "the readings cannot distinguish it from an orifice leak; the uncertainty allows for this"
        )
        self.bench.remarks.append(f"Leak treated as {self.fit.kind}: {told}.")
        pressure, target = self.readings.pressures[0].value, TEST_PRESSURES[self.at]
        if pressure < 0.9 * target or self.readings.pressures[-1].value > target * (1 + 1e-9):
            self.bench.remarks.append(
                f"The decay does not include {self.at}: the leak there is extrapolated by the model."
            )
        if not self.readings.temperatures:
            self.bench.remarks.append(self._cooling())

    def _cooling(self) -> str:
        """Return what 1 K of cooling would look like. Source: ideal gas in a closed volume."""
        readings = self.readings
        fall = (readings.ambient + readings.sign * readings.pressures[0].value) / self.bench.context.temperature_k
        took = readings.times[-1].value - readings.times[0].value
        flow = from_si(self._capacity().value * fall / took, "mL/min")
        return (
            f"Gas temperature not measured: cooling by 1 °C during the decay would read as a leak of {flow:.3g} mL/min."
        )


def decay_curve(bench: Bench, decay: DecayReadings, at: str) -> Curve:
    x_unit, y_unit = bench.unit("decay", "time"), bench.unit("decay", "pressure")
    as_read = [
        (time, replace(pressure, value=decay.sign * pressure.value))
        for time, pressure in zip(decay.times, decay.pressures, strict=True)
    ]
    series = [points("as read", as_read, x_unit, y_unit, "points"), *_fitted(decay, x_unit, y_unit)]
    mark = Mark("y", from_si(decay.sign * TEST_PRESSURES[at], y_unit), f"test pressure {at}", "note")
    return Curve("decay", "Pressure decay", "time", x_unit, "pressure", y_unit, tuple(series), (mark,))


def _fitted(decay: DecayReadings, x_unit: str, y_unit: str) -> list[Series]:
    if not decay.has_fit:
        return []
    times, pressures = decay.plain
    fit = fit_better(times, pressures)[0]
    begin, took = times[0], times[-1] - times[0]
    shape = [(begin + took * step / 40, fit.pressure(begin + took * step / 40)) for step in range(41)]
    line = tuple((from_si(t, x_unit), from_si(decay.sign * p, y_unit)) for t, p in shape)
    return [Series(f"{fit.kind} leak", line, "line")]
