"""Which hazards of the catalogue a solved circuit shows, by the limits of hazard_limits.toml.

Each criterion is such that taking a protection away never closes it: gas that a protection shuts off is not missed
(only oxygen is), nitrous oxide does not count as an anaesthetic, and what a relief valve lets out counts like what a
bag without it takes up.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from fleet.catalogue import HAZARDS
from fleet.circuit.effects import Seen
from fleet.circuit.hazard_limits import limit_si
from fleet.circuit.locations import breathing_parts
from fleet.circuit.solution import Solution
from fleet.circuit.structure import Joint

NOT_JUDGED: Mapping[str, str] = MappingProxyType(
    {
        "electric-shock": "The gas circuit says nothing of currents: earth and leakage are measured on the bench.",
        "fire": "The gas circuit says nothing of ignition: keep oil and dust away, and look at the filters.",
    }
)


def hazards_of(solution: Solution) -> tuple[str, ...]:
    """Return the codes of the hazards that a solved state shows, in the order of the catalogue."""
    return hazards_seen(Seen(solution))


def hazards_seen(seen: Seen) -> tuple[str, ...]:
    """Return the codes of the hazards in what is already looked at."""
    return tuple(code for code in HAZARDS if code in CRITERIA and CRITERIA[code](seen))


def hypoxic_mixture(seen: Seen) -> bool:
    """Another gas flows to the patient, and the gas there holds less oxygen than air, vapour not counted."""
    displaces = seen.fresh_gas - seen.fresh_oxygen - sum(seen.fresh_gas * x for x in seen.fresh_agents.values())
    return (
        displaces >= limit_si("standing-flow")
        and seen.dry_oxygen is not None
        and seen.dry_oxygen < limit_si("lowest-oxygen")
    )


def no_fresh_gas(seen: Seen) -> bool:
    """Too little oxygen comes from the machine to what the patient breathes, or the extract takes it away."""
    return seen.fresh_oxygen < limit_si("lowest-fresh-oxygen") or seen.is_sucked_flat


def wrong_gas(seen: Seen) -> bool:
    """Another gas stands under supply pressure where one gas alone belongs."""
    return bool(seen.foreign)


def two_agents(seen: Seen) -> bool:
    """A second agent is in the gas, and the gas flows."""
    shares = sorted(seen.agents.values(), reverse=True)
    return len(shares) > 1 and shares[1] > limit_si("second-agent") and seen.fresh_gas >= limit_si("standing-flow")


def agent_overdose(seen: Seen) -> bool:
    """The partial pressures of all agents together exceed so many times what keeps half of all patients still."""
    return seen.mac > limit_si("highest-agent") and seen.fresh_gas >= limit_si("standing-flow")


def barotrauma(seen: Seen) -> bool:
    """Pressure at the patient is too high, or the patient is sucked at."""
    _, high = seen.airway or (0.0, 0.0)
    return high > limit_si("highest-airway") or high < limit_si("lowest-airway")


def disconnection(seen: Seen) -> bool:
    """A joint between machine and patient is apart or in a wrong place, or the patient breathes gas of the room."""
    return bool(loosened(seen.solution)) or (
        seen.room_share > limit_si("room-share") and seen.drawn_in > limit_si("standing-flow")
    )


def awareness(seen: Seen) -> bool:
    """The machine gives agent, oxygen comes with it, and too little agent reaches the patient."""
    gives_agent = bool(seen.circuit.of_kind("vaporizer", "measured-flow-vaporizer"))
    return gives_agent and seen.outlet_oxygen >= limit_si("lowest-fresh-oxygen") and seen.mac < limit_si("lowest-agent")


def cylinder_emptied(seen: Seen) -> bool:
    """A cylinder gives gas while the pipeline of its gas is there, or loses it to the room or to another cylinder."""
    return bool(seen.drained)


def theatre_pollution(seen: Seen) -> bool:
    """Nitrous oxide or vapour leave for the room, or for a bag that gives way, faster than the theatre dilutes them.

    Where a system is blown up or sucked flat, and does not keep its gas, any such gas in it counts.
    """
    dilution = limit_si("theatre-volume") * limit_si("air-changes")
    return (
        seen.lost("nitrous-oxide") > limit_si("nitrous-oxide-in-room") * dilution
        or seen.lost_vapour > limit_si("vapour-in-room") * dilution
        or (seen.is_fed_waste and (seen.is_sucked_flat or seen.is_blown_up))
    )


def loosened(solution: Solution) -> tuple[Joint, ...]:
    """Return the joints between outlet and patient that are apart and lose or draw gas, or made where none belongs."""
    inside = breathing_parts(solution.circuit)
    apart = (
        joint
        for joint in solution.state.cut
        if {joint.source.part, joint.target.part} <= inside and passes_at(solution, joint) >= limit_si("standing-flow")
    )
    wrong = (joint for joint in solution.state.made if {joint.source.part, joint.target.part} & inside)
    return tuple(sorted((*apart, *wrong), key=str))


def passes_at(solution: Solution, joint: Joint) -> float:
    """Return how much gas leaves or enters at the open ends of a joint that is apart, m3/s."""
    flows = (solution.flows.get((port.part, f"open {port.name}")) for port in (joint.source, joint.target))
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
