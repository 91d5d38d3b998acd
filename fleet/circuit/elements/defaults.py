"""Shared by several elements: sources of defaults, leaks, and the usual failure modes."""

from fleet.circuit.elements.base import ROOM, Branch, Element, Law, Plumbing, Value
from fleet.circuit.gases import Mix
from fleet.circuit.laws import Nozzle, nozzle_area, resistance
from fleet.circuit.state import Likelihood

LITRE_PER_MINUTE = 1e-3 / 60
PSI = 6894.757293168
CM_H2O = 98.0665
OWN = "own"  # setting of a supply: its proper gas

COMMON, OCCASIONAL, RARE = Likelihood.COMMON, Likelihood.OCCASIONAL, Likelihood.RARE

# Effective area of a leak, m2: a cracked tube or a lost seal at low pressure, and a loose connection at supply
# pressure, which leaks about 2 L/min. Source: common practice, no source.
LOW_PRESSURE_LEAK_M2 = 1.5e-6
SUPPLY_LEAK_M2 = 4e-8
# pressure at which a low-pressure leak is measured. Source: ISO 80601-2-13:2022 (supersedes 2011), from memory
LEAK_TEST_PA = 3000.0
OXYGEN = Mix.supply("oxygen")


def practice(default: float, dimension: str) -> Value:
    """Return a default from common practice."""
    return Value(default, "common practice, no source", "common practice, no source", dimension)


def remembered(default: float, dimension: str, source: str) -> Value:
    """Return a default from memory."""
    return Value(default, source, "from memory", dimension)


def through(element: Element, law: Law, a: str = "in", b: str = "out", name: str = "through") -> Branch:
    return Branch(name, element.port(a), element.port(b), law)


def to_room(element: Element, port: str, area_m2: float) -> Branch:
    """Return a leak from a port to the room."""
    return Branch("leak", element.port(port), ROOM, Nozzle(area_m2))


def to_room_of(element: Element, port: str, flow_m3_s: float) -> Branch:
    """Return the leak with this flow of oxygen at the pressure of a low-pressure leak test."""
    return Branch("leak", element.port(port), ROOM, resistance(LEAK_TEST_PA, flow_m3_s))


def leaks_of(element: Element, port: str, area_m2: float) -> tuple[Branch, ...]:
    """Return the leak of a low-pressure component: that of the failure, else the measured one if there is any."""
    if element.has_failed("leaking"):
        return (to_room(element, port, area_m2),)
    flow = element.value("leak_flow")
    return (to_room_of(element, port, flow),) if flow > 0 else ()


def own_mix(element: Element) -> Mix:
    """Return the gas of a component, oxygen if it states none."""
    return Mix.supply(element.component.gas or "oxygen")


def area_for(element: Element, flow_m3_s: float, up_pa_gauge: float, down_pa_gauge: float = 0.0) -> float:
    """Return the area, m2, that passes this flow of the component's own gas between two gauge pressures."""
    ambient = element.condition.ambient_pa_abs
    return nozzle_area(flow_m3_s, ambient + up_pa_gauge, ambient + down_pa_gauge, own_mix(element))


LEAK_FLOW = Value(0.0, "measured, at 3 kPa; none until it is measured", "common practice, no source", "flow")


def supply_way(element: Element, way: Branch) -> Plumbing:
    """Return the branches of a supply component: one through it, and if it leaks one to the room downstream."""
    leaks = element.has_failed("leaking")
    return Plumbing((way, to_room(element, "out", SUPPLY_LEAK_M2)) if leaks else (way,))
