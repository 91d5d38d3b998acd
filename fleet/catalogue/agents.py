"""Agents, from agents.toml: the vapours that a vaporizer may deliver."""

from collections.abc import Mapping
from dataclasses import dataclass

from fleet.catalogue.loading import Entry, Source, UnknownAgent, by_code, read_tables


@dataclass(frozen=True, slots=True)
class Agent:
    """One agent. Vapour pressure is at 20 C, Pa absolute; dial and mac are fractions of the gas, 0 to 1."""

    code: str
    name: str
    molar_mass_kg_mol: float
    vapour_pressure_pa_abs: float
    boiling_point_k: float
    highest_dial: float
    mac: float
    filler: str
    source: Source
    note: str

    def __str__(self):
        return self.name


def get_agent(code: str) -> Agent:
    """Return the agent of that code, or raise UnknownAgent, which lists the codes."""
    if code not in AGENTS:
        raise UnknownAgent(code, tuple(AGENTS))
    return AGENTS[code]


AGENT_KEYS = (
    "code", "name", "molar_mass", "vapour_pressure", "boiling_point", "highest_dial", "mac", "filler", "source",
    "edition", "basis", "note",
)  # fmt: skip


def agent_from(entry: Entry) -> Agent:
    """Return the agent that a TOML table describes. Raises CatalogueError."""
    entry.check_keys(AGENT_KEYS)
    return Agent(
        code=entry.text("code"),
        name=entry.text("name"),
        molar_mass_kg_mol=entry.number_in("molar_mass", 20, 400) / 1000,
        vapour_pressure_pa_abs=entry.number_in("vapour_pressure", 1, 101) * 1000,
        boiling_point_k=entry.number_in("boiling_point", 0, 120) + 273.15,
        highest_dial=entry.number_in("highest_dial", 0.1, 30) / 100,
        mac=entry.number_in("mac", 0.1, 30) / 100,
        filler=entry.text("filler", may_be_empty=True),
        source=entry.source(),
        note=entry.text("note", may_be_empty=True),
    )


AGENTS: Mapping[str, Agent] = by_code(read_tables("fleet.catalogue", "agents.toml", "agent"), agent_from)
