"""Explains how a cause leads to a hazard or is stopped: one sentence after another, from supplies to patient."""

from dataclasses import dataclass

from fleet.catalogue import FEATURES
from fleet.circuit.cover_rows import Cause, Status
from fleet.circuit.effects import Seen
from fleet.circuit.features_present import Protections
from fleet.circuit.hazard_limits import LIMITS
from fleet.circuit.hazards import loosened
from fleet.circuit.narration import changes
from fleet.circuit.quantity_words import (
    agents_text,
    airway_text,
    flow_text,
    listed,
    of_gas,
    per_cent,
    share_text,
    small,
    species_name,
)


@dataclass(frozen=True)
class Explained:
    """A row of the table before its explanation is written."""

    cause: Cause
    hazard: str
    status: Status
    stopped_by: tuple[str, ...]
    told_by: tuple[str, ...]
    together: bool
    protections: Protections
    noticed_by: tuple[str, ...] = ()


def steps_of(row: Explained, ordinary: Seen, whole: Seen, bare: Seen) -> tuple[str, ...]:
    """Return the sentences: what happens, by component; what reaches the patient; what stops it or alarms on it."""
    prevented = [code for code in row.stopped_by if code in row.cause.prevented_by]
    steps = [_sentence(row.cause.title)]
    if prevented:
        steps.append(f"This is prevented by {_names(prevented)}. If it happened anyway:")
        shown = bare
    else:
        shown = whole
    steps += changes(ordinary, shown)
    if row.status is Status.STOPPED and not prevented:
        steps += _stopped(row, whole, bare)
    else:
        steps.append(verdict(row.hazard, shown))
    if row.status is Status.TOLD:
        steps += [f"{told.words.rstrip('.')}." for told in whole.solution.told if told.feature in row.told_by]
    if row.status is Status.OPEN:
        steps.append("Nothing on the machine stops it or sounds an alarm.")
    if row.noticed_by:
        steps.append(f"Noticed only by touch or sight: {_names(row.noticed_by)}.")
    return tuple(dict.fromkeys(steps))


def _stopped(row: Explained, whole: Seen, bare: Seen) -> list[str]:
    first = f"Stopped by {_names(row.stopped_by)}"
    if len(row.stopped_by) > 1:
        first += " together, not by any of them alone" if row.together else ", each of them alone"
    return [f"{first}.", *_compared(row, whole, bare)]


def _compared(row: Explained, whole: Seen, bare: Seen) -> list[str]:
    return [f"Without any safety feature: {small(verdict(row.hazard, bare))}", *_not_here(row.hazard, whole)]


def _not_here(hazard: str, whole: Seen) -> list[str]:
    return [] if hazard != "hypoxic-mixture" else [f"With it: {small(_oxygen(whole))}"]


def _names(codes) -> str:
    return listed([small(FEATURES[code].name) for code in codes])


def verdict(hazard: str, seen: Seen) -> str:
    """Return in one sentence what is wrong at the patient, with the limit it is compared with."""
    return _VERDICTS[hazard](seen)


def _oxygen(seen: Seen) -> str:
    if seen.inspired is None or seen.stands_still:
        return f"Fresh gas is {flow_text(seen.fresh_gas)}; the patient rebreathes what was in the breathing system."
    return (
        f"The patient breathes {of_gas(seen.inspired.share('oxygen'), 'oxygen')}; "
        f"fresh gas is {flow_text(seen.fresh_gas)} with {flow_text(seen.fresh_oxygen)} of oxygen."
    )


def _hypoxic(seen: Seen) -> str:
    return (
        f"The patient breathes {of_gas(seen.dry_oxygen or 0.0, 'oxygen')}, vapour not counted, "
        f"less than {LIMITS['lowest-oxygen']}."
    )


def _no_fresh_gas(seen: Seen) -> str:
    if seen.is_sucked_flat:
        return f"The extract draws the fresh gas away: the scavenging pressure is below {LIMITS['sucked-flat']}."
    return (
        f"{flow_text(seen.fresh_oxygen)} of fresh oxygen reaches the patient, less than "
        f"{LIMITS['lowest-fresh-oxygen']}: what is in the breathing system is used up."
    )


def _wrong_gas(seen: Seen) -> str:
    component, port, share = max(seen.foreign, key=lambda found: (found[2], found[0].code))
    foreign = {x: s for x, s in seen.solution.mixes[port].shares.items() if x != component.gas}
    worst = max(foreign, key=foreign.get) if foreign else ""
    gas = species_name(worst) if worst else "another gas"
    return f"{share_text(share)} of the gas at {component.label} does not belong there: {gas}."


def _two_agents(seen: Seen) -> str:
    return f"The patient breathes {agents_text(seen.agents)} at once."


def _overdose(seen: Seen) -> str:
    return f"The patient breathes {agents_text(seen.agents)}: {seen.mac:.2g} MAC, more than {LIMITS['highest-agent']}."


def _barotrauma(seen: Seen) -> str:
    _, high = seen.airway or (0.0, 0.0)
    if high < LIMITS["lowest-airway"].si:
        return f"Pressure at the patient falls to {airway_text(high)}, below {LIMITS['lowest-airway']}."
    return f"Pressure at the patient is {airway_text(high)}, more than {LIMITS['highest-airway']}."


def _hypoventilation(seen: Seen) -> str:
    if seen.idle_ventilators:
        which = listed([component.label for component in seen.idle_ventilators])
        return f"{which} does not run: the lung is not ventilated."
    if seen.torn_bellows:
        return (
            f"{listed([component.label for component in seen.torn_bellows])} is torn: a part of every breath escapes."
        )
    if seen.breath < LIMITS["lowest-ventilation"].si:
        moved = f"{flow_text(seen.breath)} moves through the patient"
        return f"{moved}, less than {LIMITS['lowest-ventilation']}: the lung is not ventilated."
    if loosened(seen.solution):
        return "The breathing system is open: a breath escapes instead of filling the lung."
    _, high = seen.airway or (0.0, 0.0)
    return (
        f"Pressure at the patient is {airway_text(high)}, less than {LIMITS['lowest-ventilated']}: the "
        "breathing system holds no pressure, and a breath does not fill the lung."
    )


def _carbon_dioxide(seen: Seen) -> str:
    if seen.discs_up:
        names = listed([component.label for component in seen.discs_up])
        return f"{names} lets breaths pass both ways: the patient breathes in what was breathed out."
    share = f"{per_cent(seen.solution.carbon_dioxide):.1f} %"
    return f"The patient breathes in {share} carbon dioxide, more than {LIMITS['highest-carbon-dioxide']}."


def _disconnection(seen: Seen) -> str:
    if seen.room_share > LIMITS["room-share"].si:
        return f"{share_text(seen.room_share)} of what the patient breathes is air from the room."
    return "The breathing system is open between machine and patient: gas is lost there, and pressure cannot build up."


def _awareness(seen: Seen) -> str:
    if seen.fresh_gas < LIMITS["standing-flow"].si:
        return f"{flow_text(seen.fresh_gas)} of fresh gas reaches the patient, and no agent with it."
    return f"The patient breathes {agents_text(seen.agents)}: {seen.mac:.2g} MAC, less than {LIMITS['lowest-agent']}."


def _emptied(seen: Seen) -> str:
    component, flow = max(seen.drained, key=lambda found: (abs(found[1]), found[0].code))
    where = "although its pipeline is connected" if flow > 0 else "into the room or another cylinder"
    return f"{flow_text(flow)} leaves by {component.label} {where}."


def _pollution(seen: Seen) -> str:
    if seen.is_sucked_flat or seen.is_blown_up:
        return "The breathing system is overfilled or sucked empty, and loses its nitrous oxide and vapour."
    return (
        f"{flow_text(seen.lost('nitrous-oxide'))} of nitrous oxide and {flow_text(seen.lost_vapour)} of vapour escape "
        f"into the room: more than a theatre of {LIMITS['theatre-volume'].value:g} m3 with "
        f"{LIMITS['air-changes'].value:g} air changes an hour can dilute to {LIMITS['nitrous-oxide-in-room']} and "
        f"{LIMITS['vapour-in-room']}."
    )


_VERDICTS = {
    "hypoxic-mixture": _hypoxic,
    "no-fresh-gas": _no_fresh_gas,
    "wrong-gas": _wrong_gas,
    "two-agents": _two_agents,
    "agent-overdose": _overdose,
    "barotrauma": _barotrauma,
    "hypoventilation": _hypoventilation,
    "carbon-dioxide": _carbon_dioxide,
    "disconnection": _disconnection,
    "awareness": _awareness,
    "cylinder-emptied": _emptied,
    "theatre-pollution": _pollution,
}


def _sentence(text: str) -> str:
    return f"{text.rstrip('.')}."
