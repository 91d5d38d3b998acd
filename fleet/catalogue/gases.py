"""Gases, from gases.toml: density, and the pins, connectors and colours that identify each supply."""

from collections.abc import Mapping
from dataclasses import dataclass

from fleet.catalogue.loading import Basis, Entry, Source, UnknownGas, by_code, read_tables

PINS = range(1, 8)  # pin-index positions, 7 is the single centre pin; ISO 407:2021 (supersedes 2004), from memory


@dataclass(frozen=True, slots=True)
class Gas:
    """One gas. Density is at 20 C and 101.325 kPa absolute."""

    code: str
    name: str
    formula: str
    molar_mass_kg_mol: float
    density_kg_m3: float
    pins: tuple[int, ...]
    diss: str
    diss_basis: Basis
    colour_iso: str
    colour_us: str
    supports_life: bool
    source: Source
    property_source: Source

    def __str__(self):
        return self.name


def get_gas(code: str) -> Gas:
    """Return the gas of that code, or raise UnknownGas, which lists the codes."""
    if code not in GASES:
        raise UnknownGas(code, tuple(GASES))
    return GASES[code]


GAS_KEYS = (
    "code", "name", "formula", "molar_mass", "density", "pins", "diss", "diss_basis", "colour_iso", "colour_us",
    "supports_life", "source", "edition", "basis", "property_source", "property_edition", "property_basis",
)  # fmt: skip


def pins_of(entry: Entry) -> tuple[int, ...]:
    """Return the pin positions, or raise CatalogueError for an invalid one."""
    pins = entry.get("pins", list)
    if not pins or not all(pin in PINS for pin in pins):
        raise entry.refuse(f"pins is {pins!r}; accepted: positions 1 to 6, or 7 alone, as in [2, 5].")
    return tuple(pins)


def gas_from(entry: Entry) -> Gas:
    """Return the gas that a TOML table describes. Raises CatalogueError."""
    entry.check_keys(GAS_KEYS)
    return Gas(
        code=entry.text("code"),
        name=entry.text("name"),
        formula=entry.text("formula"),
        molar_mass_kg_mol=entry.number_in("molar_mass", 2, 400) / 1000,
        density_kg_m3=entry.number_in("density", 0.05, 20),
        pins=pins_of(entry),
        diss=entry.text("diss", may_be_empty=True),
        diss_basis=entry.choice("diss_basis", Basis),
        colour_iso=entry.text("colour_iso"),
        colour_us=entry.text("colour_us"),
        supports_life=entry.truth("supports_life"),
        source=entry.source(),
        property_source=entry.source("property_"),
    )


GASES: Mapping[str, Gas] = by_code(read_tables("fleet.catalogue", "gases.toml", "gas"), gas_from)
