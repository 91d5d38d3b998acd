"""Mixtures of gases and vapours, with the properties that a flow law needs."""

from collections.abc import Mapping
from dataclasses import dataclass

from fleet.catalogue import AGENTS, GASES
from fleet.circuit.once import once

AIR_OXYGEN = 0.2095  # fraction of dry air; the rest counts as nitrogen. Source: from memory
AIR: Mapping[str, float] = {"oxygen": AIR_OXYGEN, "nitrogen": 1 - AIR_OXYGEN}

# Ratio of heat capacities at 20 C and 101.325 kPa. Source: CoolProp 8.0.0; vapours: from memory, about 1.05 to 1.1.
HEAT_RATIO = {"oxygen": 1.397, "nitrous-oxide": 1.283, "nitrogen": 1.401, "helium": 1.667, "carbon-dioxide": 1.297}
VAPOUR_HEAT_RATIO = 1.07

SPECIES: tuple[str, ...] = (*HEAT_RATIO, *AGENTS)
_INDEX = {species: index for index, species in enumerate(SPECIES)}
MOLAR_MASSES = tuple((GASES.get(species) or AGENTS[species]).molar_mass_kg_mol for species in SPECIES)
HEAT_RATIOS = tuple(HEAT_RATIO.get(species, VAPOUR_HEAT_RATIO) for species in SPECIES)


@dataclass(frozen=True)
class Mix:
    """A mixture: mole fractions in the order of SPECIES, with sum 1."""

    fractions: tuple[float, ...]

    @classmethod
    def of(cls, shares: Mapping[str, float]) -> "Mix":
        """Return the mixture of these amounts, in any common unit. Raises ValueError for an unknown species."""
        fractions = [0.0] * len(SPECIES)
        total = sum(shares.values())
        for species, share in shares.items():
            if species not in _INDEX or share < 0 or total <= 0:
                raise ValueError(f"{species}: {share!r} cannot be mixed. Accepted: 0 or more of {', '.join(SPECIES)}.")
            fractions[_INDEX[species]] = share / total
        return cls(tuple(fractions))

    @classmethod
    def supply(cls, gas: str) -> "Mix":
        """Return the gas of that catalogue code as pipeline or cylinder supply it; air is oxygen and nitrogen."""
        return cls.of(AIR if gas == "air" else {gas: 1.0})

    def share(self, species: str) -> float:
        """Return the mole fraction of one species."""
        return self.fractions[_INDEX[species]]

    @property
    def shares(self) -> dict[str, float]:
        """The species present, by fraction."""
        return {species: x for species, x in zip(SPECIES, self.fractions, strict=True) if x > 0}

    @once
    def agents(self) -> dict[str, float]:
        """The vapours present, by fraction."""
        return {species: x for species, x in self.shares.items() if species in AGENTS}

    @once
    def molar_mass(self) -> float:
        """kg/mol."""
        return sum(x * mass for x, mass in zip(self.fractions, MOLAR_MASSES, strict=True))

    @once
    def heat_ratio(self) -> float:
        """cp/cv of the mixture as ideal gas, from the molar heat capacities of its species."""
        cv = sum(x / (ratio - 1) for x, ratio in zip(self.fractions, HEAT_RATIOS, strict=True))
        return 1 + 1 / cv

    def with_vapour(self, species: str, fraction: float) -> "Mix":
        """Return this gas with vapour added, so that the added vapour is `fraction` of the whole."""
        thinned = [x * (1 - fraction) for x in self.fractions]
        thinned[_INDEX[species]] += fraction
        return Mix(tuple(thinned))


ROOM_AIR = Mix.of(AIR)
