"""Assigns components to lanes: their gas, mixed gas, breathing system, scavenging, or no gas."""

from collections.abc import Mapping

from fleet.catalogue import GASES
from fleet.circuit.structure import Circuit, Component

MIXED, BREATHING, SCAVENGING, BESIDE = "mixed", "breathing", "scavenging", "beside"
LANES: tuple[str, ...] = (*GASES, MIXED, BREATHING, SCAVENGING, BESIDE)
LANE_NAMES: Mapping[str, str] = {
    MIXED: "Mixed gas",
    BREATHING: "breathing system",
    SCAVENGING: "scavenging",
    BESIDE: "No gas",
}

_BY_KIND: Mapping[str, str] = {
    "scavenging-interface": SCAVENGING,
    "flow-bank": MIXED,
    "electronic-mixer": MIXED,
    "vaporizer": MIXED,
    "vaporizer-rail": MIXED,
    "measured-flow-vaporizer": MIXED,
    "outlet": MIXED,
    "relief-valve": MIXED,
    "patient-connection": BREATHING,
    "one-way-valve": BREATHING,
    "breathing-hose": BREATHING,
    "absorber": BREATHING,
    "apl-valve": BREATHING,
    "reservoir-bag": BREATHING,
    "bag-vent-selector": BREATHING,
    "ventilator": BREATHING,
    "battery": BESIDE,
    "mains-supply": BESIDE,
}

MIXES = (MIXED, BREATHING, SCAVENGING)  # these share one strip, from left to right and back


def strip_of(lane: str) -> str:
    """Return the lane that identifies a strip, which may hold several lanes."""
    return MIXED if lane in MIXES else lane


def lane_name(lane: str) -> str:
    """Return the name of a lane, for a gas the name of the gas."""
    return LANE_NAMES.get(lane) or GASES[lane].name


def lanes_of(circuit: Circuit) -> dict[str, str]:
    """Return the lane of each component by code: by its kind, else its gas, else the components it is connected to."""
    joined = _joined(circuit)
    found = {component.code: lane for component in circuit.components if (lane := _own_lane(component, joined))}
    unplaced = sorted(component.code for component in circuit.components if component.code not in found)
    while unplaced:
        known = {code: _lane_beside(joined[code], found) for code in unplaced}
        placed = {code: lane for code, lane in known.items() if lane} or {unplaced[0]: MIXED}
        found |= placed
        unplaced = [code for code in unplaced if code not in placed]
    return found


def _joined(circuit: Circuit) -> dict[str, set[str]]:
    joined: dict[str, set[str]] = {component.code: set() for component in circuit.components}
    for connection in circuit.connections:
        for one, other in ((connection.source, connection.target), (connection.target, connection.source)):
            if one.component in joined and other.component in joined and one.component != other.component:
                joined[one.component].add(other.component)
    return joined


def _own_lane(component: Component, joined: Mapping[str, set[str]]) -> str:
    if component.kind in _BY_KIND:
        return _BY_KIND[component.kind]
    if not joined[component.code]:
        return component.gas if component.gas in GASES else BESIDE
    return component.gas if component.gas in GASES else ""


def _lane_beside(others: set[str], found: Mapping[str, str]) -> str:
    """Return the lane furthest downstream of those already known; a gas lane first if there are two of them."""
    lanes = sorted((found[code] for code in others if code in found), key=LANES.index)
    gases = [lane for lane in lanes if lane in GASES]
    if len(set(gases)) > 1:
        return gases[0]
    return lanes[-1] if lanes else ""
