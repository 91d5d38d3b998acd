"""Flow of gas through valves and leaks of the simulated machines. Plain physics, independent of the bench tests.

Pressures are Pa, gauge unless a name says `_abs`; flows m3/s of gas at ambient pressure.
"""

from math import sqrt

SEA_LEVEL_PA_ABS = 101_325.0
HEAT_RATIO = {"nitrous-oxide": 1.28, "air": 1.40, "oxygen": 1.40}  # cp/cv at 20 °C; textbooks, from memory
LEAK_PA = 3000.0  # the pressure at which the leaks of a machine are given
LAMINAR_SHARE = 0.6  # of a leak at that pressure: through narrow gaps; the rest goes through holes
_STEP_S = 0.1


def ambient_pa_abs(altitude_m):
    """Return the pressure of the standard atmosphere at an altitude. Source: ICAO Doc 7488."""
    return SEA_LEVEL_PA_ABS * (1 - 2.25577e-5 * altitude_m) ** 5.25588


def needle_flow(pressure, ambient_abs, heat_ratio):
    """Return the flow through a needle valve to ambient, in a unit of its own: only ratios mean something.

    The flow follows the absolute pressure as long as the gas leaves at the speed of sound. Source: isentropic flow in
    a nozzle by its Mach number, 1 at most.
    """
    if pressure <= 0:
        return 0.0
    k, before_abs = heat_ratio, pressure + ambient_abs
    mach = min(1.0, sqrt(2 / (k - 1) * ((before_abs / ambient_abs) ** ((k - 1) / k) - 1)))
    return before_abs * mach * (1 + (k - 1) / 2 * mach**2) ** (-(k + 1) / (2 * (k - 1)))


def leak_flow(at_3_kpa, pressure):
    """Return a leak at a pressure, or at a suction, from that at 3 kPa: part laminar, part through holes."""
    share = abs(pressure) / LEAK_PA
    return at_3_kpa * (LAMINAR_SHARE * share + (1 - LAMINAR_SHARE) * sqrt(share))


def decay_pressures(times_s, *, start, volume_m3, at_3_kpa, ambient_abs, kelvin, kelvin_per_s):
    """Return the pressures of a closed volume that leaks while its gas changes temperature (ideal gas).

    times_s  rising, the first one 0
    """
    pressure, now, found = start, 0.0, []
    for wanted in times_s:
        while now < wanted - 1e-9:
            lost = leak_flow(at_3_kpa, pressure) * ambient_abs / volume_m3
            warmer = (pressure + ambient_abs) * kelvin_per_s / (kelvin + kelvin_per_s * now)
            pressure = max(0.0, pressure + (warmer - lost) * _STEP_S)
            now += _STEP_S
        found.append(pressure)
    return found
