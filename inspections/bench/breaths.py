"""What reaches the patient end at each breath: the set volume, fresh gas that joins it, gas that the hoses take up."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import hypot

from .errors import BenchError
from .measuring import Bench, Row
from .propagation import Measured, propagate_measured
from .uncertainty import Estimate

BODY_KELVIN = 310.15
BODY_VAPOUR_PA = 6282.3
"""Pressure of water vapour at 37 °C, Pa. Source: CoolProp 8.0.0 (IAPWS-95)."""
TIMING_STD = 0.05
"""Of the inspiratory share, where it is set and not timed: ± 10 % with k = 2. Common practice, no source."""
COMPRESSION_STD = 0.1
"""Of a compliance worked out from a volume: ± 20 % with k = 2, for warming and walls. Common practice, no source."""
EXACTLY_ONE, NONE = Measured(1.0), Measured(0.0)


@dataclass(frozen=True, slots=True)
class Breath:
    """One row of settings with all that decides what its breath should be; SI, pressures gauge.

    set, measured, plateau  of the row
    peep, rate, rate_set    of the test
    share                   part of the cycle in which gas is driven in, above 0 and below 1
    fresh                   fresh gas flow, m3/s at ambient conditions
    joins                   part of the fresh gas of an inspiration that joins the breath: 0 where it is decoupled
    capacity, over          compliance of the hoses, m3/Pa, as capacity / over
    ambient, kelvin         of the room
    is_body                 whether the set volume means body conditions
    """

    number: int
    set: Measured
    measured: Measured
    plateau: Measured
    peep: Measured
    rate: Measured
    rate_set: Measured
    share: Measured
    fresh: Measured
    joins: Measured
    capacity: Measured
    over: Measured
    ambient: Measured
    kelvin: Measured
    is_body: bool

    def _with(self, function: Callable[..., float], *names: str) -> Estimate:
        """Return function(*values) of these fields with its uncertainty."""
        return propagate_measured(function, [getattr(self, name) for name in names])

    def _body(self, ambient: float, kelvin: float) -> float:
        return body_factor(ambient, kelvin) if self.is_body else 1.0

    @property
    def added(self) -> Estimate:
        """Fresh gas that joins the breath, at ambient conditions."""
        return self._with(fresh_gas_added, "fresh", "share", "rate", "joins")

    @property
    def lost(self) -> Estimate:
        """Gas that the hoses take up between PEEP and plateau, at ambient conditions."""
        return self._with(hose_loss, "capacity", "over", "plateau", "peep")

    @property
    def error(self) -> Estimate:
        """Measured volume minus set volume, as read."""

        def error(measured, set_to, ambient, kelvin):
            return measured * self._body(ambient, kelvin) - set_to

        return self._with(error, "measured", "set", "ambient", "kelvin")

    @property
    def minute_error(self) -> Estimate:
        """Measured minus set minute volume, m3/s, as read."""

        def error(measured, rate, set_to, rate_set, ambient, kelvin):
            return measured * self._body(ambient, kelvin) * rate - set_to * rate_set

        return self._with(error, "measured", "rate", "set", "rate_set", "ambient", "kelvin")

    @property
    def own_error(self) -> Estimate:
        """Measured volume minus the volume expected at the patient end: the error of the machine itself."""

        def error(measured, set_to, fresh, share, rate, joins, capacity, over, plateau, peep, ambient, kelvin):
            outside = fresh_gas_added(fresh, share, rate, joins) - hose_loss(capacity, over, plateau, peep)
            return (measured - outside) * self._body(ambient, kelvin) - set_to

        return self._with(
            error, "measured", "set", "fresh", "share", "rate", "joins", "capacity", "over", "plateau", "peep",
            "ambient", "kelvin",
        )  # fmt: skip

    @property
    def expected(self) -> float:
        """The volume that a sound machine gives at the patient end, under the conditions of the set volume."""
        outside = (self.added.value - self.lost.value) * self._body(self.ambient.value, self.kelvin.value)
        return self.set.value + outside


def fresh_gas_added(fresh: float, share: float, rate: float, joins: float = 1.0) -> float:
    """Return the fresh gas that flows in during one inspiration, m3: flow x inspiratory time."""
    return fresh * share / rate * joins


def hose_loss(capacity: float, over: float, plateau: float, peep: float) -> float:
    """Return the gas that hoses of compliance capacity / over take up between PEEP and plateau, m3."""
    return capacity / over * (plateau - peep)


def body_factor(ambient_pa_abs: float, kelvin: float) -> float:
    """Return what dry gas at room temperature fills at 37 °C, saturated, per volume (ATPD to BTPS)."""
    return BODY_KELVIN / kelvin * ambient_pa_abs / (ambient_pa_abs - BODY_VAPOUR_PA)


def read_breaths(bench: Bench) -> list[Breath]:
    """Return one Breath for each row, in order of the set volume; none while a reading of the test is missing."""
    rows = bench.rows("volumes", nominal=("set",))
    (fresh, share, joins), (capacity, over) = _fresh_gas(bench), _compliance(bench)
    rate, rate_set = read_rates(bench, needed=True)
    shared = {
        "peep": bench.value("peep"), "rate": rate, "rate_set": rate_set, "share": share, "fresh": fresh,
        "capacity": capacity,
    }  # fmt: skip
    if any(one is None for one in shared.values()):
        return []
    common = {
        **shared, "joins": joins, "over": over, "ambient": bench.ambient, "kelvin": bench.ambient_kelvin,
        "is_body": bench.choice("conditions") == "body",
    }  # fmt: skip
    return sorted((_breath(number, row, common) for number, row in rows), key=lambda one: one.set.value)


def _breath(number: int, row: Row, common: dict) -> Breath:
    if row["set"].value == 0:
        raise BenchError(f"volumes[{number}].set", f"Row {number}: a set volume of 0 is no breath.")
    return Breath(number, row["set"], row["measured"], row["plateau"], **common)


def read_rates(bench: Bench, *, needed: bool) -> tuple[Measured | None, Measured | None]:
    """Return the measured and the set rate. Raises BenchError for a rate of 0."""
    found = bench.value("rate", needed=needed), bench.value("rate_set", needed=needed, nominal=True)
    for key, label, one in zip(("rate", "rate_set"), ("Measured rate", "Set rate"), found, strict=True):
        if one is not None and one.value == 0:
            raise BenchError(key, f"{label}: 0 breaths a minute is no ventilation. Enter the rate of the test.")
    return found


def _fresh_gas(bench: Bench) -> tuple[Measured | None, Measured | None, Measured]:
    """Return fresh gas flow, inspiratory share, and which part of the fresh gas joins the breath."""
    decoupling = bench.choice("decoupled")
    if decoupling == "yes":
        return NONE, EXACTLY_ONE, NONE
    fresh, share = bench.value("fresh_gas", needed=True), bench.value("inspiratory_share", needed=True, nominal=True)
    if share is not None:
        share = _timed(bench, share)
    if decoupling == "no":
        return fresh, share, EXACTLY_ONE
    bench.assume("between none and all of the fresh gas of an inspiration is added to the breath; it is not known "
                 "whether the machine decouples its fresh gas.")  # fmt: skip
    return fresh, share, Measured(0.5, own_std=0.5)  # it is none or all: half way, and half away from either


def _timed(bench: Bench, share: Measured) -> Measured:
    if not 0 < share.value < 1:
        message = (
            f"Inspiratory share: {share.value:.3g} of the cycle cannot be, some of it is inspiration and some "
            "expiration. For I:E 1:2 enter 33.3 %."
        )
        raise BenchError("inspiratory_share", message)
    if share.instrument:
        return share
    bench.assume("the inspiratory share is as set, ± 10 % of it (k = 2; common practice, no source).")
    return replace(share, shared_std=TIMING_STD * share.value)


def _compliance(bench: Bench) -> tuple[Measured | None, Measured]:
    """Return the compliance of the hoses as what stands over what."""
    way = bench.choice("hoses")
    if way == "compensated":
        bench.assume("the machine adds what its hoses take up, as chosen; no loss is expected.")
        return NONE, EXACTLY_ONE
    if way == "stated":
        return bench.value("compliance", needed=True), EXACTLY_ONE
    volume = bench.value("hose_volume", needed=True)
    if volume is None:
        return None, EXACTLY_ONE
    bench.assume("the gas in the hoses kept its temperature as it was compressed and the walls did not give, ± 20 % of "
                 "their compliance (k = 2; common practice, no source).")  # fmt: skip
    return _compressible(volume, bench.ambient)


def _compressible(volume: Measured, ambient: Measured) -> tuple[Measured, Measured]:
    """Return a volume over the absolute pressure, which is the isothermal compliance of its gas, less certain."""
    return replace(volume, own_std=hypot(volume.own_std, COMPRESSION_STD * volume.value), own_excess=0.0), ambient
