"""What a decay was read as, and how much gas the system takes per pascal (its capacity)."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from .decay import Fit, fit_better, fit_decay, without_cooling
from .errors import BenchError
from .measuring import Bench, Measured


def positive_value(bench: Bench, key: str) -> Measured | None:
    """Return a reading that this way of working needs and that must be above zero."""
    measured = bench.value(key, needed=True)
    if measured is not None and measured.value <= 0:
        label = next(spec.label for spec in bench.test.readings if spec.key == key)
        raise BenchError(key, f"{label}: it must be above zero for this method.")
    return measured


@dataclass(frozen=True, slots=True)
class DecayReadings:
    """A decay sorted by time, with the gas temperature at its ends if that was read."""

    times: tuple[Measured, ...]
    pressures: tuple[Measured, ...]
    temperatures: tuple[Measured, ...]
    ambient: float

    @property
    def flat(self) -> tuple[Measured, ...]:
        return (*self.times, *self.pressures, *self.temperatures)

    def unpack(self, values: Sequence[float]) -> tuple[Sequence[float], Sequence[float]]:
        """Return (times, pressures) of flat values, freed of cooling."""
        count = len(self.times)
        times, pressures, kelvins = values[:count], values[count : 2 * count], values[2 * count :]
        if kelvins:
            pressures = without_cooling(times, pressures, self.ambient, *kelvins)
        return times, pressures

    @property
    def plain(self) -> tuple[Sequence[float], Sequence[float]]:
        return self.unpack([one.value for one in self.flat])


def read_decay(bench: Bench, table: str, needed: int) -> DecayReadings | None:
    pairs = sorted(
        ((row["time"], row["pressure"]) for _, row in bench.rows(table, needed=needed)),
        key=lambda pair: (pair[0].value, -pair[1].value),
    )
    if len(pairs) < 2:
        return None
    times, pressures = zip(*pairs, strict=True)
    above = {time.value for time, pressure in pairs if pressure.value > 0}
    if pressures[0].value <= 0:
        raise BenchError(f"{table}[1].pressure", "The decay must start from a pressure above zero gauge.")
    if len(above) < 2:
        bench.missing.append("Pressures above zero at 2 or more different times")
        return None
    return DecayReadings(times, pressures, _temperatures(bench), bench.context.ambient_pa_abs)


def _temperatures(bench: Bench) -> tuple[Measured, ...]:
    ends = (bench.value("temperature_start"), bench.value("temperature_end"))
    return () if None in ends else ends


@dataclass(frozen=True, slots=True)
class Capacity:
    """How much ambient gas the system takes per pascal, from readings of its own and from the decay.

    of(values, fit, ambient) -> m3/Pa, where values are the SI values of `measured`, fit is the decay's
    and ambient is in Pa absolute
    """

    text: str
    measured: tuple[Measured, ...]
    of: Callable[[Sequence[float], Fit, float], float] = field(repr=False)


def _stated(bench: Bench) -> Capacity | None:
    volume, compliance = positive_value(bench, "rigid_volume"), bench.value("compliance")
    if volume is None:
        return None
    elastic = compliance or Measured(0.0)
    return Capacity(
        "stated volume" + (" and compliance" if compliance else ""),
        (volume, elastic),
        lambda values, fit, ambient: values[0] / ambient + values[1],
    )


def _from_make_up(bench: Bench) -> Capacity | None:
    flow, pressure = positive_value(bench, "makeup_flow"), positive_value(bench, "makeup_pressure")
    if flow is None or pressure is None:
        return None
    return Capacity(
        "make-up flow divided by the rate of pressure fall at the same pressure",
        (flow, pressure),
        lambda values, fit, ambient: values[0] / fit.fall_rate(values[1]) if fit.rate else 0.0,
    )


def _injected(bench: Bench) -> Capacity | None:
    volume = positive_value(bench, "injected_volume")
    before, after = bench.value("injected_before", needed=True), bench.value("injected_after", needed=True)
    if volume is None or before is None or after is None:
        return None
    if after.value <= before.value:
        raise BenchError("injected_after", "The pressure after injecting must be above the pressure before it.")
    return Capacity(
        "injected volume divided by the pressure rise",
        (volume, before, after),
        lambda values, fit, ambient: values[0] / (values[2] - values[1]),
    )


def _from_added_leak(bench: Bench) -> Capacity | None:
    flow, pressure = positive_value(bench, "added_leak_flow"), positive_value(bench, "added_leak_pressure")
    added = read_decay(bench, "decay_added", needed=2)
    if flow is None or pressure is None or added is None:
        return None
    kind = fit_better(*added.plain)[0].kind

    def capacity(values: Sequence[float], fit: Fit, ambient: float) -> float:
        with_leak = fit_decay(kind, *added.unpack(values[2:]))
        faster = with_leak.fall_rate(values[1]) - fit.fall_rate(values[1])
        if faster <= 0:
            raise BenchError("decay_added", "The decay with the added leak must be faster than the decay without it.")
        return values[0] / faster

    return Capacity(
        "known added leak, from the rates of pressure fall with and without it", (flow, pressure, *added.flat), capacity
    )


CAPACITIES: Mapping[str, Callable[[Bench], Capacity | None]] = MappingProxyType(
    {
        "stated": _stated,
        "make-up": _from_make_up,
        "injected": _injected,
        "added leak": _from_added_leak,
    }
)
