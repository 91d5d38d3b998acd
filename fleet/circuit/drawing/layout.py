"""The layout of a circuit before it is drawn: grid, routes and tracks for a width."""

from dataclasses import dataclass

from fleet.circuit.drawing.nets import Net, connection_order
from fleet.circuit.drawing.placing import Grid, placed
from fleet.circuit.drawing.routing import Route, routed
from fleet.circuit.drawing.sheet import cell_width
from fleet.circuit.drawing.tracks import Tracks, tracked
from fleet.circuit.structure import Circuit, Connection

MOST_COLUMNS = 12
LEAST_CELL = 78.0  # points


@dataclass(frozen=True, slots=True)
class Layout:
    grid: Grid
    routes: tuple[Route, ...]
    tracks: Tracks


def laid_out(circuit: Circuit, width: float, made: tuple[Connection, ...] = ()) -> Layout:
    """Return the layout for a sheet `width` points wide, the same for any order of components and connections.

    made  connections that a state adds; they do not move the components
    Folds the circuit into more bands until a column is at least LEAST_CELL wide.
    """
    extra = tuple(
        Net(tuple(sorted((connection.source, connection.target))), (connection,), True) for connection in sorted(made, key=connection_order)
    )
    for most in range(MOST_COLUMNS, 1, -1):
        grid = placed(circuit, most)
        if grid.columns < most and most > 2 and most != MOST_COLUMNS:
            continue
        routes = routed(circuit, grid, grid.nets + extra)
        layout = Layout(grid, routes, tracked(routes))
        if cell_width(grid, layout.tracks, width) >= LEAST_CELL:
            break
    return layout
