"""Ambient pressure at an altitude, by the 1976 standard atmosphere.

For a site without a barometer reading. A reading of the day is better: weather changes the pressure by a few per cent.
"""

SEA_LEVEL_PA = 101_325.0  # U.S. Standard Atmosphere, 1976, table 2
SEA_LEVEL_K = 288.15
LAPSE_K_PER_M = 0.0065
EARTH_RADIUS_M = 6_356_766.0  # the radius that turns geometric into geopotential height, same source
EXPONENT = 9.80665 * 28.9644 / (8314.32 * LAPSE_K_PER_M)  # g0 M0 / (R* L) with the R* of 1976; 5.25588
LOWEST_M = -500.0
HIGHEST_M = 11_000.0


def ambient_pressure_pa_abs(altitude_m: float) -> float:
    """Return the standard ambient pressure, Pa absolute, at a geometric altitude in metres above sea level.

    altitude_m  -500 to 11 000 (first layer of the model)
    Raises ValueError outside that range. Source: U.S. Standard Atmosphere, 1976, equations 18 and 33a.
    """
    if not LOWEST_M <= altitude_m <= HIGHEST_M:
        raise ValueError(
            f"Altitude {altitude_m:g} m is outside the standard atmosphere used here "
            f"({LOWEST_M:g} to {HIGHEST_M:g} m). Enter metres above sea level."
        )
    geopotential_m = EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)
    return SEA_LEVEL_PA * (1 - LAPSE_K_PER_M * geopotential_m / SEA_LEVEL_K) ** EXPONENT
