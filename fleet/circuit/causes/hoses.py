"""Causes at hoses: disconnections, and misconnections that the connector sizes allow."""

from collections.abc import Iterator

from fleet.circuit.cover_rows import Cause, CauseGroup
from fleet.circuit.locations import breathing_connections, breathing_components, outlet_of, waste_connections
from fleet.circuit.state import Likelihood, State
from fleet.circuit.structure import Circuit, Connection
from fleet.circuit.usual_states import ordinary_state

COMMON, OCCASIONAL, RARE = Likelihood
BREATHING_SIZES = ("15 mm", "22 mm")


def connection_causes(circuit: Circuit) -> tuple[Cause, ...]:
    """Return each disconnection, and each possible swap of two hoses. Likelihoods: common practice, no source."""
    ordinary = ordinary_state(circuit)
    return (*_off(circuit, ordinary), *_loose(circuit, ordinary), *_swapped(circuit, ordinary))


def hoses(circuit: Circuit) -> tuple[Connection, ...]:
    """Return the connections that are opened by hand: those with a size, and those of breathing hoses."""
    hose_codes = {component.code for component in circuit.of_kind("breathing-hose")}
    inside = breathing_connections(circuit)
    return tuple(
        connection
        for connection in sorted(circuit.connections, key=str)
        if connection.size or (connection in inside and {connection.source.component, connection.target.component} & hose_codes)
    )


def label_of(circuit: Circuit, connection: Connection) -> str:
    """Return a connection in words: between which components."""
    source, target = (circuit.component(port.component) for port in (connection.source, connection.target))
    return f"{source.label} and {target.label}"


def _connection(code: str, title: str, state: State, likelihood: Likelihood, prevented_by: tuple[str, ...] = ()) -> Cause:
    return Cause(code, title, CauseGroup.CONNECTION, likelihood, state, prevented_by=prevented_by)


def _slug(connection: Connection) -> str:
    return f"{connection.source}-{connection.target}".replace(".", "-")


def _apart(ordinary: State, code: str, title: str, *connections: Connection, made: tuple[Connection, ...] = ()) -> State:
    return State(code, title, ordinary.settings, frozenset(connections), made)


def _off(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    outlet = outlet_of(circuit)
    for connection in hoses(circuit):
        code, title = f"{_slug(connection)}-off", f"The connection between {label_of(circuit, connection)} is open"
        at_outlet = outlet is not None and connection.source.component == outlet.code
        if at_outlet:
            title = f"The hose is disconnected from {outlet.label}"
        prevented = ("outlet-retention",) if at_outlet else ()
        state, words = _state_at_work(circuit, ordinary, connection)
        yield _connection(code, f"{title}{words}", _apart(state, code, title, connection), COMMON, prevented)


def _state_at_work(circuit: Circuit, ordinary: State, connection: Connection) -> tuple[State, str]:
    """Return the state in which a connection matters: for the bag's, when the bag is selected."""
    bags = {component.code for component in circuit.of_kind("reservoir-bag")}
    selectors = circuit.of_kind("bag-vent-selector")
    if not selectors or not {connection.source.component, connection.target.component} & bags:
        return ordinary, ""
    return ordinary.with_settings(selectors[0].code, position="bag"), ", while the patient breathes from it"


def _loose(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    """Cones that do not fit each other come loose; standard ones fit."""
    hose_codes = {component.code for component in circuit.of_kind("breathing-hose")}
    for connection in breathing_connections(circuit):
        patients = {component.code for component in circuit.of_kind("patient-connection")}
        if not (
            {connection.source.component, connection.target.component} & patients and {connection.source.component, connection.target.component} & hose_codes
        ):
            continue
        code = f"{_slug(connection)}-does-not-fit"
        title = f"Cones of two manufacturers between {label_of(circuit, connection)} do not fit and disconnect"
        yield _connection(code, title, _apart(ordinary, code, title, connection), OCCASIONAL, ("breathing-connectors",))


def _swapped(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    """A breathing hose and a waste gas hose, connected in place of each other."""
    hose_codes = {component.code for component in circuit.of_kind("breathing-hose")} & breathing_components(circuit)
    for waste in waste_connections(circuit):
        for connection in breathing_connections(circuit):
            if not _may_be_swapped(circuit, connection, waste, hose_codes):
                continue
            made = (
                Connection(connection.source, waste.target, connection.size),
                Connection(waste.source, connection.target, connection.size),
            )
            code = f"{_slug(connection)}-swapped-with-{_slug(waste)}"
            source, target = (circuit.component(port.component) for port in (connection.source, waste.target))
            title = (
                f"A breathing hose and the waste gas hose are swapped: {source.label} leads to {target.label}"
            )
            state = _apart(ordinary, code, title, connection, waste, made=made)
            yield _connection(code, title, state, OCCASIONAL, ("scavenging-30mm",))


def _may_be_swapped(circuit: Circuit, connection: Connection, waste: Connection, hose_codes) -> bool:
    """Return whether they could be confused: a breathing hose at the machine's end, and the hose of the APL valve.

    A waste gas connector of 30 mm prevents it. The cause is listed all the same, to show the effect of that feature.
    """
    ends = {connection.source.component, connection.target.component}
    if not ends & hose_codes or circuit.of_kind("patient-connection")[0].code in ends:
        return False
    return connection.size in ("", *BREATHING_SIZES) and circuit.component(waste.source.component).kind == "apl-valve"
