"""One component at a time on the bench: its branches at given pressures, and small circuits around it."""

from fleet.circuit.elements import ELEMENTS, element_for
from fleet.circuit.elements.base import Condition
from fleet.circuit.gases import Mix
from fleet.circuit.solver import solve
from fleet.circuit.state import Fault, State
from fleet.circuit.structure import STANDARD_PA_ABS, Circuit, Connection, Component, Port

LITRE_PER_MINUTE = 1e-3 / 60
PSI = 6894.757293168  # Pa, exact product
CM_H2O = 98.0665  # Pa, conventional


def component(kind, code="component", gas="", options=None, **values):
    return Component(code, kind, code.replace("-", " ").capitalize(), gas, values, options or {})


def element(kind, *, gas="", options=None, failure="", removed=False, ambient=STANDARD_PA_ABS, values=None, **settings):
    one = component(kind, gas=gas, options=options, **(values or {}))
    return element_for(one, Condition(settings, failure, removed, ambient))


def flow(one, name, a, b, gas="oxygen", pilots=()):
    """L/min through a branch between two gauge pressures, of one gas, with gauge pressures at its pilots."""
    branch = next(branch for branch in one.plumbing().branches if branch.name == name)
    ambient, mix = one.condition.ambient_pa_abs, Mix.supply(gas)
    assert len(branch.pilots) == len(pilots)
    found = branch.law.flow(ambient + a, ambient + b, mix, mix, tuple(ambient + pilot for pilot in pilots))
    return found.value / LITRE_PER_MINUTE


def circuit(components, connections, **more):
    """A circuit of components and connections such as "wall.out control.in"."""
    made = tuple(Connection(*(Port(*end.split(".")) for end in connection.split())) for connection in connections)
    return Circuit("rig", "Rig", tuple(components), made, **more)


def solved(components, connections, settings=None, faults=(), removed=(), **more):
    """Solve a rig with these settings by component code and these faults, pairs of component and mode."""
    state = State("rig", "Rig", settings or {})
    faults = tuple(Fault(*fault) for fault in faults)
    return solve(circuit(components, connections, **more), state, faults, frozenset(removed))


def litres(solution, code, name="through"):
    return solution.flow(code, name).value_m3_s / LITRE_PER_MINUTE


def wall(gas="oxygen", code="wall"):
    """A pipeline inlet that loses no pressure to speak of."""
    return component("pipeline-inlet", code, gas, hose_drop=1e-3)


__all__ = [
    "CM_H2O", "ELEMENTS", "LITRE_PER_MINUTE", "PSI", "circuit", "element", "flow", "litres", "component", "solved",
    "wall",
]  # fmt: skip
