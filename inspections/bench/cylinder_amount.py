"""How much gas a cylinder holds: from its pressure as a real gas, and from its mass; what the reserve leaves of it."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

from fleet.catalogue.gases import get_gas

from .assumed_accuracy import STAMPED_CAPACITY
from .decay import STANDARD_K
from .errors import BenchError
from .measuring import Bench
from .propagation import Measured, propagate_measured
from .quantities import from_si
from .real_gas import HIGHEST_PA_ABS, LOWEST_K, SATURATION, density, highest_kelvin, pressure, saturation
from .uncertainty import Estimate

UNREAD_STD_K = 1.5  # of the gas in a cylinder that takes the temperature of the room; common practice, no source
NEAR_LIQUID = 0.97  # share of the vapour pressure from which liquid may be present; common practice, no source
MOST_KG_M3 = 1000.0
"""More mass in a litre of cylinder than any medical gas is filled to: liquid nitrous oxide at 0 °C is 907 kg/m3
(CoolProp 8.0.0), oxygen at 30 MPa and 20 °C 372."""


@dataclass(frozen=True, slots=True)
class Amount:
    """An amount of gas as a function of readings: of(*values) is m3 at 20 °C and 101.325 kPa.

    text  how it was found
    """

    read: tuple[Measured, ...]
    of: Callable[..., float]
    text: str

    @property
    def estimate(self) -> Estimate:
        return propagate_measured(self.of, self.read)


@dataclass(frozen=True, slots=True)
class Cylinder:
    """What a sheet says of a cylinder: gauge pressure, water capacity, gas temperature; None for what was not read."""

    gas: str
    held: Measured | None
    capacity: Measured | None
    kelvin: Measured
    ambient: Measured

    @property
    def is_liquefied(self) -> bool:
        return self.gas in SATURATION

    @property
    def may_hold_liquid(self) -> bool:
        """Whether its pressure is so near the vapour pressure that it says nothing of the content."""
        top = saturation(self.gas, self.kelvin.value)
        return top is not None and self.held is not None and self.held.value + self.ambient.value >= NEAR_LIQUID * top

    @property
    def is_too_warm(self) -> bool:
        """Whether the gas is warmer than its density is known here for; near the critical point of nitrous oxide."""
        return self.kelvin.value > highest_kelvin(self.gas) + 1e-9

    def by_pressure(self) -> Amount | None:
        """Return the content from the pressure, real gas; None while liquid may be present, or without a reading."""
        if self.held is None or self.capacity is None or self.may_hold_liquid or self.is_too_warm:
            return None
        text = f"{get_gas(self.gas).name.lower()} as a real gas, from pressure, temperature and water capacity"
        return Amount((self.held, self.capacity, self.kelvin, self.ambient), self._content, text)

    def _content(self, held: float, capacity: float, kelvin: float, ambient: float) -> float:
        return capacity * density(self.gas, held + ambient, kelvin) / get_gas(self.gas).density_kg_m3

    def at_20(self) -> Estimate | None:
        """Return the gauge pressure that the same gas would have at 20 °C, Pa; None where liquid may be present."""
        if self.held is None or self.is_liquefied:
            return None

        def brought(held: float, kelvin: float, ambient: float) -> float:
            return pressure(self.gas, density(self.gas, held + ambient, kelvin), STANDARD_K) - ambient

        return propagate_measured(brought, (self.held, self.kelvin, self.ambient))

    def below(self, reserve: Measured) -> Amount | None:
        """Return what is left in the cylinder at the reserve pressure; None without a water capacity."""
        if self.capacity is None or self.is_too_warm:
            return None
        return Amount(
            (reserve, self.capacity, self.kelvin, self.ambient), self._content, "left at the reserve pressure"
        )


def read_cylinder(bench: Bench) -> Cylinder:
    """Return the cylinder of a sheet. Raises BenchError for what cannot be."""
    gas = bench.choice("gas")
    needed = gas not in SATURATION
    held = bench.value("pressure", needed=needed)
    capacity = bench.value("water_capacity", needed=needed, stated=STAMPED_CAPACITY)
    highest = HIGHEST_PA_ABS - bench.context.ambient_pa_abs
    if held is not None and not 0 <= held.value <= highest:
        shown, top = (from_si(one, "kPa") for one in (held.value, highest))
        raise BenchError("pressure", f"Cylinder pressure: {shown:.5g} kPa. Accepted: 0 to {top:.0f} kPa gauge.")
    if capacity is not None and capacity.value <= 0:
        raise BenchError("water_capacity", "Water capacity: it must be above zero. It is stamped on the shoulder.")
    return Cylinder(gas, held, capacity, _temperature(bench), bench.ambient)


def _temperature(bench: Bench) -> Measured:
    found = bench.value("gas_temperature")
    if found is None:
        bench.assume(f"the gas in the cylinder has the temperature of the room, ± {2 * UNREAD_STD_K:g} K (k = 2).")
        return Measured(bench.context.temperature_k, own_std=UNREAD_STD_K)
    if not LOWEST_K - 1e-9 <= found.value <= 323.15 + 1e-9:
        message = f"Gas temperature: {from_si(found.value, '°C'):.4g} °C. Accepted: -10 to 50 °C."
        raise BenchError("gas_temperature", message)
    return found


def by_mass(bench: Bench, cylinder: Cylinder, *, needed: bool) -> Amount | None:
    """Return the content from gross mass less tare. Raises BenchError for masses that cannot be."""
    gross, tare = bench.value("gross_mass", needed=needed), bench.value("tare", needed=needed)
    if gross is None and tare is None:
        return None
    if gross is None or tare is None:
        if not needed:
            bench.missing.append("Both masses: of the cylinder as it is, and its tare")
        return None
    net = gross.value - tare.value
    if net < -2 * (gross.estimate.std_uncertainty + tare.estimate.std_uncertainty):
        raise BenchError("gross_mass", "Mass of the cylinder: it is below its tare. Check which of the two is which.")
    most = cylinder.capacity.value * MOST_KG_M3 if cylinder.capacity is not None else inf
    if net > most:
        message = (
            f"Mass of the cylinder: {net:.3g} kg of gas in {from_si(cylinder.capacity.value, 'L'):.3g} L is more than "
            "any cylinder holds. Check tare, unit and water capacity."
        )
        raise BenchError("gross_mass", message)
    standard = get_gas(cylinder.gas).density_kg_m3
    return Amount((gross, tare), lambda whole, empty: (whole - empty) / standard, "gross mass less tare")
