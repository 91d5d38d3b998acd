"""Converts the content of a cylinder to its gauge pressure: real gas at 20 C."""

from collections.abc import Mapping

from fleet.circuit.gases import Mix
from fleet.circuit.laws.nozzle import GAS_CONSTANT, TEMPERATURE_K
from fleet.late import optimize

# Compressibility at 20 C up to 220 bar: Z = 1 + c1 x + c2 x2 + c3 x3 + c4 x4, x = p / 10 MPa.
# Source: fitted to CoolProp 8.0.0, within 0.0001.
COMPRESSIBILITY: Mapping[str, tuple[float, ...]] = {
    "oxygen": (-0.0691385, 0.00975508, 0.00694746, -0.00107777),
    "air": (-0.036066, 0.0228412, 0.00189441, -0.000524754),
    "nitrogen": (-0.0242335, 0.023206, 0.00270762, -0.000888118),
    "helium": (0.0486864, -0.000587839, 1.3416e-05, 2.48892e-06),
}

# Gases that are liquid under their vapour in the cylinder, at 20 C: saturation pressure (Pa absolute), density of
# the vapour (kg/m3), fill (kg of gas per m3 of cylinder) and Z = 1 + b1 rho + b2 rho2 of the vapour.
# Source: CoolProp 8.0.0, Z within 0.0001; fill of nitrous oxide 2.926 kg in 4.68 L, of carbon dioxide 0.68: from memory
LIQUEFIED: Mapping[str, tuple[float, float, float, float, float]] = {
    "nitrous-oxide": (5_052_509.0, 157.986, 2.926 / 4.68e-3, -0.0031346912, 2.91260436e-06),
    "carbon-dioxide": (5_729_053.0, 194.202, 680.0, -0.0029113226, 2.59844201e-06),
}


def compressibility(gas: str, pressure_pa_abs: float) -> float:
    """Return Z of a gas at 20 C and 0 to 22 MPa absolute. Raises KeyError for a gas that is not permanent."""
    x = pressure_pa_abs / 1e7
    return 1 + sum(c * x**power for power, c in enumerate(COMPRESSIBILITY[gas], 1))


def cylinder_pressure_pa_abs(gas: str, content: float, full_pa_gauge: float, ambient_pa_abs: float) -> float:
    """Return the pressure of a cylinder at 20 C, Pa absolute, at least ambient.

    content        remaining fraction of a full cylinder, by mass, 0 to 1
    full_pa_gauge  gauge pressure of a full one, at most 21.9 MPa
    A liquefied gas has its saturation pressure while liquid is left.
    Raises ValueError for a content outside 0 to 1, KeyError for a gas that is not in these tables.
    """
    if not 0 <= content <= 1:
        raise ValueError(f"content is {content!r}; give the remaining fraction of a full cylinder, 0 to 1.")
    if gas in LIQUEFIED:
        return max(_liquefied(gas, content), ambient_pa_abs)
    full = full_pa_gauge + ambient_pa_abs
    amount = content * full / compressibility(gas, full)
    if amount <= ambient_pa_abs:
        return ambient_pa_abs
    return optimize.brentq(lambda p: p / compressibility(gas, p) - amount, ambient_pa_abs / 2, 2 * full, xtol=1e-3)


def _liquefied(gas: str, content: float) -> float:
    saturation, vapour, fill, b1, b2 = LIQUEFIED[gas]
    density = content * fill
    if density >= vapour:
        return saturation
    molar_mass = Mix.supply(gas).molar_mass
    z = 1 + b1 * density + b2 * density**2
    return density * GAS_CONSTANT * TEMPERATURE_K / molar_mass * z
