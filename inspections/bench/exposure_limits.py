"""Published limits of exposure to anaesthetic gases at work, by whose rule they are, and the mass of a gas in air."""

from collections.abc import Mapping
from types import MappingProxyType

from .limits import FROM_MEMORY, SEEN, Limit
from .specs import limit

NITROUS = "nitrous_oxide"
HOUR, EIGHT_HOURS = 3600.0, 28_800.0
GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018
MOLAR_MASS: Mapping[str, float] = MappingProxyType(
    {NITROUS: 44.01, "isoflurane": 184.49, "enflurane": 184.49, "halothane": 197.38}
)
"""g/mol. Source: chemicals 1.5.2."""

_UK = ("EH40/2005", "EH40/2005")
_ACGIH = ("ACGIH threshold limit values, quoted by a university's safety office", "-")
_NIOSH = ("NIOSH 77-140", "1977", SEEN)

SHIFT_LIMITS: Mapping[str, tuple[tuple[str, float, tuple[str, str], str], ...]] = MappingProxyType(
    {
        NITROUS: (("eh40-8h", 100.0, _UK, SEEN), ("acgih-8h", 50.0, _ACGIH, SEEN)),
        "isoflurane": (("eh40-8h", 50.0, _UK, SEEN),),
        "enflurane": (("eh40-8h", 50.0, _UK, FROM_MEMORY), ("acgih-8h", 75.0, _ACGIH, SEEN)),
        "halothane": (("eh40-8h", 10.0, _UK, FROM_MEMORY), ("acgih-8h", 50.0, _ACGIH, SEEN)),
    }
)
"""By gas: rule, ppm over eight hours, source with edition, basis."""


def exposure_limits() -> tuple[Limit, ...]:
    """Return the limits of the average over a case, over eight hours, and of the highest hour."""
    shifts = (
        limit(f"shift_{gas}", rule, f"No more than {ppm:g} ppm over 8 h", (None, ppm), "ppm", *source, basis)
        for gas, rules in SHIFT_LIMITS.items()
        for rule, ppm, source, basis in rules
    )
    return (
        limit("case_average", "niosh-n2o-25", "No more than 25 ppm while it is given", (None, 25), "ppm", *_NIOSH),
        *shifts,
        limit("ceiling", "niosh-2-ppm", "No more than 2 ppm in any hour", (None, 2), "ppm", *_NIOSH),
        limit("ceiling_mixed", "niosh-0.5-ppm", "No more than 0.5 ppm in any hour", (None, 0.5), "ppm", *_NIOSH,
              note="Where nitrous oxide is given as well."),
    )  # fmt: skip


def mg_per_m3(fraction: float, gas: str, ambient_pa_abs: float, kelvin: float) -> float:
    """Return the mass of a gas in air, mg/m3, from its fraction; 0 where its molar mass is not known.

    Ideal gas: at 101.325 kPa and 25 °C a mole takes 24.465 L, at 20 °C 24.055 L.
    """
    moles_per_m3 = ambient_pa_abs / (GAS_CONSTANT * kelvin)
    return fraction * moles_per_m3 * MOLAR_MASS.get(gas, 0.0) * 1000.0
