"""Groups connections that meet into nets, and finds which components follow each other."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fleet.circuit.drawing.ports import is_pilot, is_sink
from fleet.circuit.structure import Circuit, Connection, Component, Port


@dataclass(frozen=True, slots=True)
class Net:
    """Connected ports, in order; `is_made` if the state, not the circuit, connects them."""

    ports: tuple[Port, ...]
    connections: tuple[Connection, ...]
    is_made: bool = False


def nets_of(connections: Iterable[Connection]) -> tuple[Net, ...]:
    """Return the connections grouped into nets, the same for any order of the connections."""
    groups: list[tuple[set[Port], list[Connection]]] = []
    for connection in sorted(set(connections), key=connection_order):
        ends = {connection.source, connection.target}
        touched = [group for group in groups if group[0] & ends]
        groups = [group for group in groups if not group[0] & ends]
        ports = ends.union(*(group[0] for group in touched))
        groups.append((ports, [*(known for group in touched for known in group[1]), connection]))
    return tuple(
        Net(tuple(sorted(ports)), tuple(sorted(found, key=connection_order))) for ports, found in sorted(groups, key=_first)
    )


def connection_order(connection: Connection):
    """Return a key that sorts connections, independent of their original order."""
    return connection.source, connection.target, connection.size


def _first(group):
    return min(group[0])


def ways(circuit: Circuit, nets: Iterable[Net]) -> Mapping[str, tuple[str, ...]]:
    """Return the components directly downstream of each component, by code, each in order."""
    components = {component.code: component for component in circuit.components}
    found: dict[str, set[str]] = {code: set() for code in sorted(components)}
    for net in nets:
        for source, target in _pairs(net, components):
            if source.component != target.component:
                found[source.component].add(target.component)
    return {code: tuple(sorted(targets)) for code, targets in found.items()}


def _pairs(net: Net, components: Mapping[str, Component]):
    ports = [port for port in net.ports if port.component in components]
    sinks = [port for port in ports if is_sink(components[port.component], port.name)]
    pilots = [port for port in ports if is_pilot(components[port.component], port.name)]
    drivers = [port for port in ports if port not in sinks and port not in pilots]
    if drivers and sinks:
        return [(driver, sink) for driver in drivers for sink in sinks]
    known = [connection for connection in net.connections if connection.source in ports and connection.target in ports]
    return [(connection.source, connection.target) for connection in known if connection.target not in pilots]
