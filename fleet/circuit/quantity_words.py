"""Texts for pressures, flows and gases in explanations."""

from collections.abc import Mapping

from fleet.catalogue import AGENTS, GASES
from fleet.circuit.gases import AIR, AIR_OXYGEN, Mix
from fleet.circuit.units import factor

_L_MIN = 1 / factor("L/min")
_PSI, _CM_H2O = factor("psi"), factor("cmH2O")
_NAMES = {"nitrogen": "nitrogen", "helium": "helium", "carbon-dioxide": "carbon dioxide"}


def species_name(species: str) -> str:
    """Return the name of a gas or an agent for use within a sentence."""
    entry = GASES.get(species) or AGENTS.get(species)
    return entry.name.lower() if entry else _NAMES.get(species, species)


def flow_text(flow_m3_s: float) -> str:
    """Return a flow in L/min, or in mL/min below 0.1 L/min."""
    litres = abs(flow_m3_s) * _L_MIN
    if litres < 0.0005:
        return "0 L/min"
    return f"{litres * 1000:.0f} mL/min" if litres < 0.1 else f"{litres:.3g} L/min"


def supply_text(pa_gauge: float) -> str:
    """Return a supply pressure in kPa and psi."""
    return f"{_whole(pa_gauge / 1000)} kPa ({_whole(pa_gauge / _PSI)} psi)"


def airway_text(pa_gauge: float) -> str:
    return f"{_whole(pa_gauge / _CM_H2O)} cmH2O"


def per_cent(fraction: float) -> float:
    """Return a fraction in per cent for texts, without the last digits of a computation.

    Room air, 20.95 %, lies halfway between two texts: it is 20.9 % in all of them, however it was computed.
    """
    return round(fraction * 100, 4)


def share_text(fraction: float) -> str:
    """Return a fraction in per cent."""
    return f"{per_cent(fraction):.3g} %" if fraction >= 5e-5 else "0 %"


def of_gas(fraction: float, species: str) -> str:
    """Return the fraction of a gas in words: "33 % oxygen", "no oxygen"."""
    return f"{share_text(fraction)} {species_name(species)}" if fraction >= 5e-5 else f"no {species_name(species)}"


def mix_text(mix: Mix) -> str:
    """Return a mixture in words, the largest fraction first; nitrogen with its share of oxygen is called air."""
    components = {species: share for species, share in mix.shares.items() if share >= 0.0005}
    air = min(components.get("nitrogen", 0.0) / AIR["nitrogen"], components.get("oxygen", 0.0) / AIR_OXYGEN)
    if air > 0.999:
        return "air"
    named = sorted(components.items(), key=lambda item: (-item[1], item[0]))
    if len(named) == 1:
        return species_name(named[0][0])
    return ", ".join(f"{species_name(species)} {share_text(share)}" for species, share in named)


def agents_text(agents: Mapping[str, float]) -> str:
    shown = {agent: share for agent, share in agents.items() if share >= 0.00005}
    return " and ".join(f"{species_name(agent)} {share_text(share)}" for agent, share in shown.items()) or "no agent"


def listed(names: list[str]) -> str:
    """Return names as a list within a sentence."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else ""


def small(text: str) -> str:
    """Return a text for the middle of a sentence; an abbreviation at its start keeps its capitals."""
    return text if text[:2].isupper() else f"{text[:1].lower()}{text[1:]}"


def _whole(number: float) -> str:
    rounded = round(number) if abs(number) >= 10 else round(number, 1)
    return f"{rounded:g}" if rounded else "0"
