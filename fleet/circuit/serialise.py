"""Converts a cover table and closing sets to JSON data and back, equal to the last digit.

Most causes of a table share one state, so states are written as differences from the first one.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from fleet.circuit.closing import ClosingSet, Gap
from fleet.circuit.cover_rows import Cause, CauseGroup, CoverRow, CoverTable, Figures, Status, Unsolved
from fleet.circuit.state import Fault, Likelihood, State
from fleet.circuit.structure import Connection, Port

FORMAT = 1


class TableFormatError(ValueError):
    """Stored data that is not a cover table of this release; the message says what it is and what to do."""


def table_to_dict(table: CoverTable) -> dict[str, Any]:
    """Return the table as dictionaries, lists, texts, numbers and None."""
    causes = list({cause.code: cause for cause in _causes(table)}.values())
    base = causes[0].state if causes else State("", "")
    numbers = {cause.code: number for number, cause in enumerate(causes)}
    return {
        "format": FORMAT,
        "circuit": table.circuit,
        "digest": table.digest,
        "number_of_causes": table.causes,
        "base": {component: dict(settings) for component, settings in base.settings.items()},
        "causes": [_cause_to_dict(cause, base) for cause in causes],
        "rows": [_row_to_dict(row, numbers) for row in table.rows],
        "unsolved": [{"cause": numbers[each.cause.code], "reason": each.reason} for each in table.unsolved],
    }


def table_from_dict(data: Mapping[str, Any]) -> CoverTable:
    """Return the table that table_to_dict wrote. Raises TableFormatError for anything else."""
    if not isinstance(data, Mapping) or data.get("format") != FORMAT:
        found = data.get("format") if isinstance(data, Mapping) else type(data).__name__
        raise TableFormatError(
            f"The stored cover table has format {found!r}; this release reads {FORMAT}. Compute it again."
        )
    try:
        return _table(data)
    except (KeyError, IndexError, TypeError, ValueError) as error:
        raise TableFormatError(f"The stored cover table is damaged ({error!r}). Compute it again.") from error


def closing_to_dict(sets: Iterable[ClosingSet]) -> dict[str, Any]:
    """Return closing sets as dictionaries, lists and texts."""
    return {"format": FORMAT, "sets": [_set_to_dict(each) for each in sets]}


def closing_from_dict(data: Mapping[str, Any]) -> tuple[ClosingSet, ...]:
    """Return the closing sets that closing_to_dict wrote. Raises TableFormatError for anything else."""
    try:
        return tuple(_set(each) for each in data["sets"])
    except (KeyError, TypeError, ValueError) as error:
        raise TableFormatError(f"The stored closing sets are damaged ({error!r}). Compute them again.") from error


def _set_to_dict(each: ClosingSet) -> dict[str, Any]:
    return {
        "features": list(each.features),
        "closes": {code: [list(gap) for gap in gaps] for code, gaps in each.closes.items()},
        "closed": [list(gap) for gap in each.closed],
        "left": [list(gap) for gap in each.left],
        "opens": [list(gap) for gap in each.opens],
        "can_be_retrofitted": each.can_be_retrofitted,
    }


def _set(data: Mapping[str, Any]) -> ClosingSet:
    return ClosingSet(
        features=tuple(data["features"]),
        closes={code: _gaps(gaps) for code, gaps in data["closes"].items()},
        closed=_gaps(data["closed"]),
        left=_gaps(data["left"]),
        opens=_gaps(data["opens"]),
        can_be_retrofitted=data["can_be_retrofitted"],
    )


def _gaps(data: list[list[str]]) -> tuple[Gap, ...]:
    return tuple(Gap(*gap) for gap in data)


def _causes(table: CoverTable):
    yield from (row.cause for row in table.rows)
    yield from (each.cause for each in table.unsolved)


def _cause_to_dict(cause: Cause, base: State) -> dict[str, Any]:
    return {
        "code": cause.code,
        "title": cause.title,
        "group": str(cause.group),
        "likelihood": str(cause.likelihood),
        "state": _state_to_dict(cause.state, base),
        "faults": [[fault.component, fault.mode] for fault in cause.faults],
        "prevented_by": list(cause.prevented_by),
        "parts_of": list(cause.components_of),
    }


def _state_to_dict(state: State, base: State) -> dict[str, Any]:
    return {
        "code": state.code,
        "title": state.title,
        "settings": {
            component: dict(settings) for component, settings in state.settings.items() if base.settings.get(component) != settings
        },
        "unset": sorted(set(base.settings) - set(state.settings)),
        "cut": sorted(_connection_to_list(connection) for connection in state.cut),
        "made": [_connection_to_list(connection) for connection in state.made],
    }


def _connection_to_list(connection: Connection) -> list[str]:
    return [*connection.source, *connection.target, connection.size]


def _row_to_dict(row: CoverRow, numbers: Mapping[str, int]) -> dict[str, Any]:
    return {
        "hazard": row.hazard,
        "cause": numbers[row.cause.code],
        "status": str(row.status),
        "stopped_by": list(row.stopped_by),
        "told_by": list(row.told_by),
        "steps": list(row.steps),
        "figures": figures_to_dict(row.figures),
        "without": figures_to_dict(row.without),
        "together": row.together,
    }


def figures_to_dict(figures: Figures | None) -> dict[str, Any] | None:
    """Return figures for JSON, in SI as in Figures, or None."""
    if figures is None:
        return None
    return {
        "oxygen": figures.oxygen,
        "agents": dict(figures.agents),
        "fresh_gas_m3_s": figures.fresh_gas_m3_s,
        "fresh_oxygen_m3_s": figures.fresh_oxygen_m3_s,
        "airway_pa_gauge": figures.airway_pa_gauge,
        "room_m3_s": figures.room_m3_s,
    }


def _table(data: Mapping[str, Any]) -> CoverTable:
    causes = [_cause(each, data["base"]) for each in data["causes"]]
    return CoverTable(
        circuit=data["circuit"],
        digest=data["digest"],
        causes=data["number_of_causes"],
        rows=tuple(_row(each, causes) for each in data["rows"]),
        unsolved=tuple(Unsolved(causes[each["cause"]], each["reason"]) for each in data["unsolved"]),
    )


def _cause(data: Mapping[str, Any], base: Mapping[str, Any]) -> Cause:
    return Cause(
        code=data["code"],
        title=data["title"],
        group=CauseGroup(data["group"]),
        likelihood=Likelihood(data["likelihood"]),
        state=_state(data["state"], base),
        faults=tuple(Fault(*fault) for fault in data["faults"]),
        prevented_by=tuple(data["prevented_by"]),
        components_of=tuple(data["parts_of"]),
    )


def _state(data: Mapping[str, Any], base: Mapping[str, Any]) -> State:
    kept = {component: settings for component, settings in base.items() if component not in data["unset"]}
    return State(
        code=data["code"],
        title=data["title"],
        settings={**kept, **data["settings"]},
        cut=frozenset(_connection(each) for each in data["cut"]),
        made=tuple(_connection(each) for each in data["made"]),
    )


def _connection(data: list[str]) -> Connection:
    return Connection(Port(data[0], data[1]), Port(data[2], data[3]), data[4])


def _row(data: Mapping[str, Any], causes: list[Cause]) -> CoverRow:
    return CoverRow(
        hazard=data["hazard"],
        cause=causes[data["cause"]],
        status=Status(data["status"]),
        stopped_by=tuple(data["stopped_by"]),
        told_by=tuple(data["told_by"]),
        steps=tuple(data["steps"]),
        figures=_figures(data["figures"]),
        without=_figures(data["without"]),
        together=data["together"],
    )


def _figures(data: Mapping[str, Any] | None) -> Figures | None:
    return None if data is None else Figures(**data)
