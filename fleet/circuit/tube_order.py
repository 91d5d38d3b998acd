"""Lays out the tubes of a flowmeter bank in their order along the manifold: a leak loses the gas that passes it.

A circuit connects every tube to "in" or "out" of its bank. In the bank the tubes enter one after the other: gas that
enters far from the outlet passes the seals of all tubes nearer to it, and a leak there takes it first. The option
"order" of a bank names the gases from the far end to the outlet. A gas that it does not name takes the worst place:
oxygen the far end, the others after it. Tubes that enter at "out" are the last.
"""

from collections.abc import Iterable
from dataclasses import replace
from types import MappingProxyType

from fleet.circuit.structure import Circuit, Component, Connection, Port

OXYGEN = "oxygen"
OXYGEN_LAST = "o2-last"


def laid_out(circuit: Circuit, removed: Iterable[str] = ()) -> Circuit:
    """Return the circuit with a port of its own for every gas that enters a bank.

    removed  with "o2-last" in it, oxygen that enters last enters at the far end instead
    """
    for bank in circuit.of_kind("flow-bank"):
        circuit = _bank_laid_out(circuit, bank, OXYGEN_LAST in removed)
    return circuit


def _bank_laid_out(circuit: Circuit, bank: Component, has_oxygen_first: bool) -> Circuit:
    entering = _entering(circuit, bank, has_oxygen_first)
    places = {gas: place for place, gas in enumerate(_order(bank, entering.values()))}
    if len(places) < 2 and not has_oxygen_first:
        return circuit
    connections = tuple(
        replace(connection, target=tube_port(bank.code, places[entering[connection]]))
        if connection in entering
        else connection
        for connection in circuit.connections
    )
    counted = replace(bank, options=MappingProxyType({**bank.options, "tubes": str(max(len(places), 1))}))
    return replace(
        circuit,
        components=tuple(counted if component is bank else component for component in circuit.components),
        connections=connections,
    )


def tube_port(bank: str, place: int) -> Port:
    """Return the port of a tube, counted from the far end: the first is the port "in" of the bank."""
    return Port(bank, f"tube-{place}" if place else "in")


def _entering(circuit: Circuit, bank: Component, has_oxygen_first: bool) -> dict[Connection, str]:
    """Return the connections that enter the bank before its outlet, with their gas."""
    found = {}
    for connection in circuit.connections:
        if connection.target.component != bank.code:
            continue
        gas = _gas_at(circuit, connection.source)
        if connection.target.name == "in" or (has_oxygen_first and gas == OXYGEN and connection.target.name == "out"):
            found[connection] = gas
    return found


def _gas_at(circuit: Circuit, port: Port) -> str:
    return circuit.component(port.component).gas or port.name.removesuffix("-out")


def _order(bank: Component, gases: Iterable[str]) -> list[str]:
    named = bank.options.get("order", "").replace(",", " ").split()
    place = {gas: number for number, gas in enumerate(named)}
    return sorted(set(gases), key=lambda gas: (place.get(gas, -1 if gas == OXYGEN else len(named)), gas))
