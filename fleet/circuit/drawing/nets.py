"""Groups connections that meet into nets, and finds which components follow each other."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fleet.circuit.drawing.ports import is_pilot, is_sink
from fleet.circuit.structure import Circuit, Joint, Part, Port


@dataclass(frozen=True, slots=True)
class Net:
    """Connected ports, in order; `is_made` if the state, not the circuit, connects them."""

    ports: tuple[Port, ...]
    joints: tuple[Joint, ...]
    is_made: bool = False


def nets_of(joints: Iterable[Joint]) -> tuple[Net, ...]:
    """Return the connections grouped into nets, the same for any order of the connections."""
    groups: list[tuple[set[Port], list[Joint]]] = []
    for joint in sorted(set(joints), key=joint_order):
        ends = {joint.source, joint.target}
        touched = [group for group in groups if group[0] & ends]
        groups = [group for group in groups if not group[0] & ends]
        ports = ends.union(*(group[0] for group in touched))
        groups.append((ports, [*(known for group in touched for known in group[1]), joint]))
    return tuple(
        Net(tuple(sorted(ports)), tuple(sorted(found, key=joint_order))) for ports, found in sorted(groups, key=_first)
    )


def joint_order(joint: Joint):
    """Return a key that sorts connections, independent of their original order."""
    return joint.source, joint.target, joint.size


def _first(group):
    return min(group[0])


def ways(circuit: Circuit, nets: Iterable[Net]) -> Mapping[str, tuple[str, ...]]:
    """Return the components directly downstream of each component, by code, each in order."""
    parts = {part.code: part for part in circuit.parts}
    found: dict[str, set[str]] = {code: set() for code in sorted(parts)}
    for net in nets:
        for source, target in _pairs(net, parts):
            if source.part != target.part:
                found[source.part].add(target.part)
    return {code: tuple(sorted(targets)) for code, targets in found.items()}


def _pairs(net: Net, parts: Mapping[str, Part]):
    ports = [port for port in net.ports if port.part in parts]
    sinks = [port for port in ports if is_sink(parts[port.part], port.name)]
    pilots = [port for port in ports if is_pilot(parts[port.part], port.name)]
    drivers = [port for port in ports if port not in sinks and port not in pilots]
    if drivers and sinks:
        return [(driver, sink) for driver in drivers for sink in sinks]
    known = [joint for joint in net.joints if joint.source in ports and joint.target in ports]
    return [(joint.source, joint.target) for joint in known if joint.target not in pilots]
