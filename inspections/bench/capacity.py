"""What a decay was read as, and how much gas the system takes per pascal (its capacity)."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from .decay import Fit, fit_better, fit_decay, without_cooling
from .errors import BenchError
from .measuring import Bench
from .propagation import Measured


def positive_value(bench: Bench, key: str, *, by_suction: bool = False) -> Measured | None:
    """Return a reading that this way of working needs and that must be above zero; a pressure, by suction, below it."""
    measured = bench.value(key, needed=True)
    if by_suction and measured is not None and measured.value < 0 and bench.test.code in BY_SUCTION:
        return replace(measured, value=-measured.value)
    if measured is not None and measured.value <= 0:
        label = next(spec.label for spec in bench.test.readings if spec.key == key)
        raise BenchError(key, f"{label}: it must be above zero for this method.")
    return measured


@dataclass(frozen=True, slots=True)
class DecayReadings:
    """A decay sorted by time, with the gas temperature at its ends if that was read.

    pressures  how far from ambient: of a decay under suction the pressures below ambient, as positive numbers
    sign       -1 under suction, else 1
    drift      the change of gas temperature that nobody read, with its uncertainty; none where both ends were read
    """

    times: tuple[Measured, ...]
    pressures: tuple[Measured, ...]
    temperatures: tuple[Measured, ...]
    ambient: float
    ambient_k: float
    sign: int = 1
    drift: tuple[Measured, ...] = ()

    @property
    def flat(self) -> tuple[Measured, ...]:
        return (*self.times, *self.pressures, *self.temperatures, *self.drift)

    def unpack(self, values: Sequence[float]) -> tuple[Sequence[float], Sequence[float]]:
        """Return (times, pressures) of flat values, freed of cooling."""
        count = len(self.times)
        times, pressures, rest = values[:count], values[count : 2 * count], values[2 * count :]
        kelvins = (self.ambient_k, self.ambient_k + rest[0]) if self.drift else rest
        if kelvins:
            gauge = [self.sign * pressure for pressure in pressures]
            pressures = [self.sign * one for one in without_cooling(times, gauge, self.ambient, *kelvins)]
        return times, pressures

    @property
    def plain(self) -> tuple[Sequence[float], Sequence[float]]:
        return self.unpack([one.value for one in self.flat])

    @property
    def empty_at(self) -> int | None:
        """Return the place of the first reading without pressure, None if there is none."""
        return next((place for place, pressure in enumerate(self.pressures) if pressure.value <= 0), None)

    @property
    def has_fit(self) -> bool:
        """Whether pressures were read at two times before the system was empty."""
        return len({time.value for time, p in zip(self.times, self.pressures, strict=True) if p.value > 0}) > 1


def read_decay(bench: Bench, table: str, needed: int) -> DecayReadings | None:
    pairs = sorted(
        ((row["time"], row["pressure"]) for _, row in bench.rows(table, needed=needed)),
        key=lambda pair: (pair[0].value, -abs(pair[1].value)),
    )
    if len(pairs) < 2:
        return None
    times, pressures = zip(*pairs, strict=True)
    sign = _direction(bench, pressures[0], f"{table}[1].pressure")
    ends = _temperatures(bench)
    drift = () if ends else (Measured(0.0, own_std=UNSEEN_DRIFT_STD_K),)
    if not ends:
        bench.assume(
            f"the gas kept its temperature during the decay, ± {2 * UNSEEN_DRIFT_STD_K:g} K (k = 2); it was not read."
        )
    if len({time.value for time in times}) < 2:
        bench.missing.append("Pressures at 2 or more different times")
        return None
    away = tuple(replace(one, value=sign * one.value) for one in pressures)
    return DecayReadings(times, away, ends, bench.context.ambient_pa_abs, bench.context.temperature_k, sign, drift)


UNSEEN_DRIFT_STD_K = 0.3  # of the gas temperature over a decay, where nobody read it; common practice, no source


def _direction(bench: Bench, first: Measured, where: str) -> int:
    """Return 1 for a pressure above ambient, -1 for one below it, where suction is used. Raises BenchError."""
    if first.value > 0:
        return 1
    if first.value < 0 and bench.test.code in BY_SUCTION:
        return -1
    raise BenchError(where, "The decay must start from a pressure above zero gauge.")


BY_SUCTION = ("low-pressure-leak",)  # tests that may be done by suction as well


def _temperatures(bench: Bench) -> tuple[Measured, ...]:
    ends = (bench.value("temperature_start"), bench.value("temperature_end"))
    return () if None in ends else ends


@dataclass(frozen=True, slots=True)
class Capacity:
    """How much ambient gas the system takes per pascal, from readings of its own and from the decay.

    of(values, fit, ambient) -> m3/Pa, where values are the SI values of `measured`, fit is the decay's
    and ambient is in Pa absolute
    needs_fit  whether it rests on the rate at which the decay falls
    """

    text: str
    measured: tuple[Measured, ...]
    of: Callable[[Sequence[float], Fit | None, float], float] = field(repr=False)
    needs_fit: bool = False


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
    flow, pressure = positive_value(bench, "makeup_flow"), positive_value(bench, "makeup_pressure", by_suction=True)
    if flow is None or pressure is None:
        return None
    return Capacity(
        "make-up flow divided by the rate of pressure fall at the same pressure",
        (flow, pressure),
        lambda values, fit, ambient: values[0] / fit.fall_rate(values[1]) if fit.rate else 0.0,
        needs_fit=True,
    )


def _injected(bench: Bench) -> Capacity | None:
    volume = positive_value(bench, "injected_volume")
    before, after = bench.value("injected_before", needed=True), bench.value("injected_after", needed=True)
    if volume is None or before is None or after is None:
        return None
    is_drawn = after.value < 0 and bench.test.code in BY_SUCTION
    if after.value == before.value or is_drawn != (after.value < before.value):
        raise BenchError("injected_after", "The pressure after injecting must be above the pressure before it.")
    return Capacity(
        "injected volume divided by the pressure rise",
        (volume, before, after),
        lambda values, fit, ambient: values[0] / abs(values[2] - values[1]),
    )


def _from_added_leak(bench: Bench) -> Capacity | None:
    flow, pressure = positive_value(bench, "added_leak_flow"), positive_value(bench, "added_leak_pressure")
    added = read_decay(bench, "decay_added", needed=2)
    if flow is None or pressure is None or added is None or not added.has_fit:
        return None
    kind = fit_better(*added.plain)[0].kind

    def capacity(values: Sequence[float], fit: Fit, ambient: float) -> float:
        with_leak = fit_decay(kind, *added.unpack(values[2:]))
        faster = with_leak.fall_rate(values[1]) - fit.fall_rate(values[1])
        if faster <= 0:
            raise BenchError("decay_added", "The decay with the added leak must be faster than the decay without it.")
        return values[0] / faster

    return Capacity(
        "known added leak, from the rates of pressure fall with and without it", (flow, pressure, *added.flat),
        capacity, needs_fit=True,
    )  # fmt: skip


CAPACITIES: Mapping[str, Callable[[Bench], Capacity | None]] = MappingProxyType(
    {
        "stated": _stated,
        "make-up": _from_make_up,
        "injected": _injected,
        "added leak": _from_added_leak,
    }
)
