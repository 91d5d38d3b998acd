"""The side of each port on its component, and its ordinary direction of flow."""

from collections.abc import Mapping

from fleet.circuit.structure import Component, Port

LEFT, RIGHT, TOP = "left", "right", "top"

STEERED = ("supply-failure-valve", "regulator-cutoff")  # kinds whose "oxygen" port is a pilot without flow
SINKS: Mapping[str, tuple[str, ...]] = {  # ports where gas enters; for all other kinds "in"
    "ratio-protection": ("oxygen-in", "nitrous-oxide-in"),
    "electronic-mixer": ("oxygen-in", "nitrous-oxide-in", "air-in"),
    "bag-vent-selector": ("out",),
    "ventilator": ("drive", "out"),
}
_LEFT_ALWAYS: Mapping[str, tuple[str, ...]] = {
    "patient-connection": ("in", "out"),
    "bag-vent-selector": ("bag", "ventilator"),
    "ventilator": ("drive", "exhaust"),
}
_RIGHT_ALWAYS: Mapping[str, tuple[str, ...]] = {"bag-vent-selector": ("out",), "ventilator": ("out",)}


def is_pilot(component: Component, name: str) -> bool:
    """Return whether the port is only a pilot port."""
    return name == "oxygen" and component.kind in STEERED


def is_sink(component: Component, name: str) -> bool:
    """Return whether gas ordinarily enters the component at this port."""
    return name in SINKS.get(component.kind, ("in",))


def side_of(component: Component, name: str, is_mirrored: bool) -> str:
    """Return LEFT, RIGHT or TOP; a mirrored component has flow from right to left."""
    if is_pilot(component, name):
        return TOP
    if name in _LEFT_ALWAYS.get(component.kind, ()):
        return LEFT
    if name in _RIGHT_ALWAYS.get(component.kind, ()):
        return RIGHT
    return LEFT if is_sink(component, name) != is_mirrored else RIGHT


def port_order(port: Port) -> tuple[str, ...]:
    """Return a key that sorts the ports of a side, top first."""
    order = ("oxygen-in", "oxygen-out", "in", "drive", "out", "ventilator", "nitrous-oxide-in", "nitrous-oxide-out")
    return (f"{order.index(port.name):02d}" if port.name in order else "99", port.name)
