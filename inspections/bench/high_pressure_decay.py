"""What a pressure decay of a gas under high pressure shows: how much gas is lost, as a real gas at its temperature."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from statistics import linear_regression

from fleet.catalogue.gases import get_gas

from .errors import BenchError
from .measuring import Bench
from .propagation import Measured, budget
from .quantities import from_si
from .real_gas import HIGHEST_PA_ABS, LOWEST_K, density, highest_kelvin, pressure
from .uncertainty import Estimate, fit_line

UNREAD_CHANGE_STD_K = 1.0
"""Standard uncertainty of a change of gas temperature that nobody read. Gas warms as it is let into a closed space and
cools afterwards, so it is more than at low pressure. Common practice, no source."""
UNREAD_CHANGE_K = 2 * UNREAD_CHANGE_STD_K
Heights = Callable[[Sequence[float]], tuple[Sequence[float], Sequence[float]]]


@dataclass(frozen=True, slots=True)
class HighDecay:
    """A decay sorted by time. `kelvins` holds a temperature for each pressure, or none where one was not read."""

    gas: str
    times: tuple[Measured, ...]
    pressures: tuple[Measured, ...]
    kelvins: tuple[Measured, ...]
    ambient: Measured
    room: Measured

    @property
    def is_temperature_known(self) -> bool:
        return bool(self.kelvins)

    @property
    def duration(self) -> float:
        return self.times[-1].value - self.times[0].value

    @property
    def flat(self) -> tuple[Measured, ...]:
        """Every input of `states`; a change of temperature that nobody read is the last but one."""
        unread = (self.room, Measured(0.0, shared_std=UNREAD_CHANGE_STD_K))
        return (*self.times, *self.pressures, *(self.kelvins or unread), self.ambient)

    def states(self, values: Sequence[float]) -> list[tuple[float, float, float]]:
        """Return (time, Pa absolute, K) of each reading from the values of `flat`."""
        count = len(self.times)
        times, gauge, kelvins = values[:count], values[count : 2 * count], values[2 * count : -1]
        if not self.kelvins:
            room, change = kelvins
            kelvins = [room + change * (time - times[0]) / (times[-1] - times[0]) for time in times]
        return [(t, p + values[-1], k) for t, p, k in zip(times, gauge, kelvins, strict=True)]

    def leak(self, volume: Measured) -> Estimate:
        """Return the gas lost from a volume, m3/s at 20 °C and 101.325 kPa; the slope of the line through all rows."""
        standard = get_gas(self.gas).density_kg_m3

        def amounts(values: Sequence[float]) -> tuple[list[float], list[float]]:
            states = self.states(values[:-1])
            return [t for t, _, _ in states], [values[-1] * density(self.gas, p, k) / standard for _, p, k in states]

        read = (*self.flat, volume)
        return _falling(amounts, read, apart=len(read) - 1)

    def fall(self) -> Estimate:
        """Return how fast the pressure falls, Pa/s, had the gas kept the temperature of its first reading."""
        return _falling(self._at_first_temperature, self.flat)

    def _at_first_temperature(self, values: Sequence[float]) -> tuple[list[float], list[float]]:
        states = self.states(values)
        first = states[0][2]
        held = [p if k == first else pressure(self.gas, density(self.gas, p, k), first) for _, p, k in states]
        return [t for t, _, _ in states], held

    def corrected(self) -> list[tuple[Measured, Measured]]:
        """Return (time, gauge pressure) as at the temperature of the first reading."""
        times, held = self._at_first_temperature([one.value for one in self.flat])
        return [(Measured(t), Measured(p - self.ambient.value)) for t, p in zip(times, held, strict=True)]

    def warmed(self) -> tuple[float, float]:
        """Return what a change by UNREAD_CHANGE_K over the decay would look like: a fall of pressure, Pa/s, and one of
        density, kg/m3/s."""
        _, pa_abs, kelvin = self.states([one.value for one in self.flat])[0]
        held = density(self.gas, pa_abs, kelvin)
        colder = kelvin - UNREAD_CHANGE_K
        fall = pa_abs - pressure(self.gas, held, colder)
        return abs(fall) / self.duration, abs(density(self.gas, pa_abs, colder) - held) / self.duration


def _falling(heights: Heights, read: Sequence[Measured], apart: int | None = None) -> Estimate:
    """Return how fast the heights fall, with their uncertainty; from three rows on the scatter counts."""

    def rate(*values: float) -> float:
        times, found = heights(values)
        lowest = min(found)  # taken off, so that a decay without fall is exactly 0
        return 0.0 - linear_regression(times, [one - lowest for one in found]).slope

    found = budget(rate, read)
    times, y = heights([one.value for one in read])
    if len(times) < 3:
        return found.estimate
    scatter = fit_line(times, y).slope
    return found.with_scatter(replace(scatter, value=0.0), apart=apart)


def read_high_decay(bench: Bench, gas: str) -> HighDecay | None:
    """Return the decay of a sheet, None where it is not complete. Raises BenchError for what cannot be."""
    rows = sorted(bench.rows("decay"), key=lambda one: one[1]["time"].value)
    if len(rows) < 2:
        return None
    for number, row in rows:
        _refuse(bench, number, row, gas)
    columns = [row for _, row in rows]
    times = tuple(row["time"] for row in columns)
    if len({time.value for time in times}) < 2:
        bench.missing.append("Pressures at 2 or more different times")
        return None
    kelvins = tuple(row["temperature"] for row in columns if "temperature" in row)
    if len(kelvins) < len(rows):
        bench.assume(
            f"the gas kept its temperature, ± {UNREAD_CHANGE_K:g} K (k = 2); it was not read beside every pressure."
        )
        kelvins = ()
        _refuse_temperature("decay", bench.context.temperature_k, gas)
    pressures = tuple(row["pressure"] for row in columns)
    return HighDecay(gas, times, pressures, kelvins, bench.ambient, bench.ambient_kelvin)


def _refuse(bench: Bench, number: int, row, gas: str) -> None:
    where, held = f"decay[{number}]", row["pressure"].value
    highest = HIGHEST_PA_ABS - bench.context.ambient_pa_abs
    if not 0 <= held <= highest:
        raise BenchError(
            f"{where}.pressure",
            f"Row {number}: {from_si(held, 'kPa'):.4g} kPa. Accepted: 0 to {from_si(highest, 'kPa'):.0f} kPa gauge.",
        )
    if "temperature" in row:
        _refuse_temperature(f"{where}.temperature", row["temperature"].value, gas)


def _refuse_temperature(where: str, kelvin: float, gas: str) -> None:
    highest = highest_kelvin(gas)
    if not LOWEST_K - 1e-9 <= kelvin <= highest + 1e-9:
        low, high, read = (from_si(one, "°C") for one in (LOWEST_K, highest, kelvin))
        message = f"{get_gas(gas).name} at {read:.4g} °C. Accepted for the gas temperature: {low:.0f} to {high:.0f} °C."
        raise BenchError(where, message)
