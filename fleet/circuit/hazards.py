"""Finds which hazards of the catalogue a solved circuit shows, by the limits of hazard_limits.toml.

The criteria are chosen so that removing a safety feature never closes a hazard: only a lack of oxygen counts, not of a
gas that a safety feature cuts off; nitrous oxide does not count as an anaesthetic; and gas vented by a relief valve
counts like gas that the bag takes up without it.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from fleet.catalogue import HAZARDS
from fleet.circuit.effects import Seen
from fleet.circuit.hazard_limits import limit_si
from fleet.circuit.locations import breathing_components
from fleet.circuit.solution import Solution
from fleet.circuit.structure import Connection

NOT_JUDGED: Mapping[str, str] = MappingProxyType(
    {
        "electric-shock": "A gas circuit does not show electric currents: measure earth resistance and leakage.",
        "fire": "A gas circuit does not show ignition: keep oil and dust away, and check the filters.",
    }
)


def hazards_of(solution: Solution) -> tuple[str, ...]:
    """Return the codes of the hazards that a solved state shows, in the order of the catalogue."""
    return hazards_seen(Seen(solution))


def hazards_seen(seen: Seen) -> tuple[str, ...]:
    """Return the codes of the hazards in an evaluated solution."""
    return tuple(code for code in HAZARDS if code in CRITERIA and CRITERIA[code](seen))


def hypoxic_mixture(seen: Seen) -> bool:
    """Another gas flows to the patient, and the patient's gas holds less oxygen than air, vapour not counted."""
    displaces = seen.fresh_gas - seen.fresh_oxygen - sum(seen.fresh_gas * x for x in seen.fresh_agents.values())
    return (
        displaces >= limit_si("standing-flow")
        and seen.dry_oxygen is not None
        and seen.dry_oxygen < limit_si("lowest-oxygen")
    )


def no_fresh_gas(seen: Seen) -> bool:
    """Too little oxygen flows from the machine to the patient, or the extract draws it away."""
    return seen.fresh_oxygen < limit_si("lowest-fresh-oxygen") or seen.is_sucked_flat


def wrong_gas(seen: Seen) -> bool:
    """Another gas is under supply pressure in a line for a single gas."""
    return bool(seen.foreign)


def two_agents(seen: Seen) -> bool:
    """The flowing gas contains a second agent."""
    shares = sorted(seen.agents.values(), reverse=True)
    return len(shares) > 1 and shares[1] > limit_si("second-agent") and seen.fresh_gas >= limit_si("standing-flow")


def agent_overdose(seen: Seen) -> bool:
    """The partial pressures of all agents together exceed the highest multiple of MAC."""
    return seen.mac > limit_si("highest-agent") and seen.fresh_gas >= limit_si("standing-flow")


def barotrauma(seen: Seen) -> bool:
    """Pressure at the patient is too high, or too far below ambient."""
    _, high = seen.airway or (0.0, 0.0)
    return high > limit_si("highest-airway") or high < limit_si("lowest-airway")


def disconnection(seen: Seen) -> bool:
    """A connection between machine and patient is open or misconnected, or the patient breathes room air."""
    return bool(loosened(seen.solution)) or (
        seen.room_share > limit_si("room-share") and seen.drawn_in > limit_si("standing-flow")
    )


def awareness(seen: Seen) -> bool:
    """The machine delivers agent with oxygen, and too little agent reaches the patient."""
    gives_agent = bool(seen.circuit.of_kind("vaporizer", "measured-flow-vaporizer"))
    return gives_agent and seen.outlet_oxygen >= limit_si("lowest-fresh-oxygen") and seen.mac < limit_si("lowest-agent")


def cylinder_emptied(seen: Seen) -> bool:
    """A cylinder supplies gas although the pipeline is connected, or loses it to the room or to another cylinder."""
    return bool(seen.drained)


def theatre_pollution(seen: Seen) -> bool:
    """Nitrous oxide or vapour escape into the room or a swelling bag faster than the theatre ventilation dilutes them.

    In an overfilled or sucked-empty system, which loses its gas, any nitrous oxide or vapour counts.
    """
    dilution = limit_si("theatre-volume") * limit_si("air-changes")
    return (
        seen.lost("nitrous-oxide") > limit_si("nitrous-oxide-in-room") * dilution
        or seen.lost_vapour > limit_si("vapour-in-room") * dilution
        or (seen.is_fed_waste and (seen.is_sucked_flat or seen.is_blown_up))
    )


def loosened(solution: Solution) -> tuple[Connection, ...]:
    """Return the connections between outlet and patient that are open and leak or draw gas, or are misconnected."""
    inside = breathing_components(solution.circuit)
    apart = (
        connection
        for connection in solution.state.cut
        if {connection.source.component, connection.target.component} <= inside and passes_at(solution, connection) >= limit_si("standing-flow")
    )
    wrong = (connection for connection in solution.state.made if {connection.source.component, connection.target.component} & inside)
    return tuple(sorted((*apart, *wrong), key=str))


def passes_at(solution: Solution, connection: Connection) -> float:
    """Return the flow through the open ends of a disconnected connection, in or out, m3/s."""
    flows = (solution.flows.get((port.component, f"open {port.name}")) for port in (connection.source, connection.target))
    return sum(abs(flow.value_m3_s) for flow in flows if flow)


CRITERIA: Mapping[str, Callable[[Seen], bool]] = MappingProxyType(
    {
        "hypoxic-mixture": hypoxic_mixture,
        "no-fresh-gas": no_fresh_gas,
        "wrong-gas": wrong_gas,
        "two-agents": two_agents,
        "agent-overdose": agent_overdose,
        "barotrauma": barotrauma,
        "disconnection": disconnection,
        "awareness": awareness,
        "cylinder-emptied": cylinder_emptied,
        "theatre-pollution": theatre_pollution,
    }
)
