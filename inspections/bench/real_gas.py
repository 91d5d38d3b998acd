"""Density and pressure of the gases of a machine as real gases, from 0 to 22 MPa and -10 to 50 °C.

An ideal gas is 6 % wrong in a full cylinder of oxygen and 40 % wrong in nitrous oxide near its vapour pressure. The
compressibility at 20 °C is that of fleet.circuit.cylinders; what another temperature adds is here.
"""

from collections.abc import Mapping, Sequence
from math import exp
from types import MappingProxyType

from fleet.catalogue.gases import get_gas
from fleet.circuit.cylinders import LIQUEFIED
from fleet.circuit.cylinders import compressibility as compressibility_20

from .decay import GAS_CONSTANT, STANDARD_K

PERMANENT = ("oxygen", "air", "nitrogen", "helium")
HIGHEST_PA_ABS, LOWEST_K, HIGHEST_K = 22e6, 263.15, 323.15
TEMPERATURE_STEP = 30.0  # K; the unit of t below
DENSITY_STEP = 100.0  # kg/m3; the unit of u below

# Z(p, T) - Z(p, 20 °C) = sum of c_ik t^i x^k with t = (T - 293.15 K) / 30 K, x = p / 10 MPa; a row is one power of t.
# Source: fitted to CoolProp 8.0.0 over 0.05 to 22 MPa and -10 to 50 °C; Z within 0.0002.
WARMTH: Mapping[str, tuple[tuple[float, ...], ...]] = MappingProxyType(
    {
        "oxygen": (
            (0.0337941, 0.0017622, -0.00497035, 0.00069701),
            (-0.00655581, -0.00257771, 0.00235066, -0.000315226),
            (0.000918951, 0.00115907, -0.000852602, 0.000116355),
        ),
        "air": (
            (0.0282875, -0.00224275, -0.0041283, 0.000826374),
            (-0.00586875, -0.00117156, 0.0022009, -0.000445715),
            (0.00091496, 0.000608599, -0.000733611, 0.000152872),
        ),
        "nitrogen": (
            (0.0273427, -0.00457246, -0.00308895, 0.000717474),
            (-0.00586887, -0.000150491, 0.00157389, -0.000338935),
            (0.000931581, 0.000338803, -0.000543769, 0.000116445),
        ),
        "helium": (
            (-0.00549187, 9.30252e-05, -6.71302e-06, 2.21295e-07),
            (0.000554983, -7.76025e-06, 1.93839e-06, -3.4848e-07),
            (-5.34979e-05, -2.36718e-08, -3.85961e-07, 1.13052e-07),
        ),
    }
)

# Of the vapour of liquefied gases: Z(rho, T) - Z(rho, 20 °C) = sum of c_ik t^i u^k, u = rho / 100 kg/m3; a row is one
# power of u. Up to the highest temperature given, in K, and up to saturation.
# Source: fitted to CoolProp 8.0.0 from -10 °C on; Z within 0.0007 for nitrous oxide, 0.0002 for carbon dioxide.
VAPOUR: Mapping[str, tuple[float, tuple[tuple[float, ...], ...]]] = MappingProxyType(
    {
        "nitrous-oxide": (
            308.15, ((0.069153, -0.00843828, 0.00372132), (-0.00237427, -0.00434034, 0.000598249)),
        ),
        "carbon-dioxide": (
            300.15, ((0.0673035, -0.00978396, 0.00316829), (-0.00204531, -0.00285059, -0.000222588)),
        ),
    }
)  # fmt: skip

# Critical temperature (K) and pressure (Pa abs), and ln(p/pc) T/Tc = a h + b h^1.5 + c h^2.5 with h = 1 - T/Tc.
# Source: fitted to CoolProp 8.0.0 from -10 °C to 0.5 K below the critical point; within 0.02 %.
SATURATION: Mapping[str, tuple[float, float, tuple[float, float, float]]] = MappingProxyType(
    {
        "nitrous-oxide": (309.520678, 7_244_817.0, (-6.84154705, 1.81588024, -2.54254924)),
        "carbon-dioxide": (304.1282, 7_377_298.0, (-7.03350843, 1.56835255, -2.43445616)),
    }
)


def highest_kelvin(gas: str) -> float:
    """Return the highest temperature at which the density of a gas is known here, in K."""
    return VAPOUR[gas][0] if gas in VAPOUR else HIGHEST_K


def saturation(gas: str, kelvin: float) -> float | None:
    """Return the vapour pressure of a liquefied gas, Pa abs; None for a permanent one and above the critical point."""
    if gas not in SATURATION:
        return None
    critical_k, critical_pa, (a, b, c) = SATURATION[gas]
    if kelvin >= critical_k:
        return None
    below = 1 - kelvin / critical_k
    return critical_pa * exp((a * below + b * below**1.5 + c * below**2.5) * critical_k / kelvin)


def density(gas: str, pa_abs: float, kelvin: float) -> float:
    """Return the density of a gas in kg/m3; of a liquefied one that of its vapour, at most the saturated vapour.

    gas  of PERMANENT or VAPOUR;  pa_abs  Pa absolute, 0 to 22 MPa;  kelvin  263 K to `highest_kelvin(gas)`
    """
    if gas in VAPOUR:
        return _vapour_density(gas, min(pa_abs, saturation(gas, kelvin) or pa_abs), kelvin)
    return pa_abs / (_specific(gas) * kelvin * _permanent(gas, pa_abs, kelvin))


def pressure(gas: str, kg_m3: float, kelvin: float) -> float:
    """Return the pressure of a gas of that density, Pa absolute. Range as for `density`."""
    ideal = kg_m3 * _specific(gas) * kelvin
    if gas in VAPOUR:
        return ideal * _vapour(gas, kg_m3, kelvin)
    found = ideal
    for _ in range(60):  # each round leaves less than a fifth of the error
        found, last = ideal * _permanent(gas, found, kelvin), found
        if abs(found - last) <= 1e-12 * ideal:
            break
    return found


def _specific(gas: str) -> float:
    return GAS_CONSTANT / get_gas(gas).molar_mass_kg_mol


def _permanent(gas: str, pa_abs: float, kelvin: float) -> float:
    x, t = pa_abs / 1e7, (kelvin - STANDARD_K) / TEMPERATURE_STEP
    rows = (x * _polynomial(row, x) for row in WARMTH[gas])
    return compressibility_20(gas, pa_abs) + t * _polynomial(tuple(rows), t)


def _vapour(gas: str, kg_m3: float, kelvin: float) -> float:
    _, _, _, b1, b2 = LIQUEFIED[gas]
    u, t = kg_m3 / DENSITY_STEP, (kelvin - STANDARD_K) / TEMPERATURE_STEP
    rows = tuple(t * _polynomial(row, t) for row in VAPOUR[gas][1])
    return 1 + b1 * kg_m3 + b2 * kg_m3**2 + u * _polynomial(rows, u)


def _polynomial(coefficients: Sequence[float], x: float) -> float:
    return sum(c * x**power for power, c in enumerate(coefficients))


def _vapour_density(gas: str, pa_abs: float, kelvin: float) -> float:
    """Return the root by Newton from the ideal gas: the pressure bends downwards, so that each step stays below it."""
    factor = _specific(gas) * kelvin
    found = pa_abs / factor
    for _ in range(50):
        step = 1e-4 * (found + 1e-6)
        here, ahead = (pressure(gas, rho, kelvin) for rho in (found, found + step))
        slope = max((ahead - here) / step, 0.05 * factor)  # at the critical point the pressure hardly rises
        found, last = max(found + (pa_abs - here) / slope, 0.0), found
        if abs(found - last) <= 1e-11 * (found + 1e-6):
            break
    return found
