"""A circuit as its last inspection found it: failures and values of failed results, which never close a hazard.

A component that failed keeps its failure (`Component.failed`) and its values as measured; `Component.sound_values` are
those that
count if it had not failed. The cover table is computed for both circuits, and the worse row counts: a failure that by
chance keeps gas away, or sets off an alarm, is no protection.
"""

from collections.abc import Iterable
from dataclasses import replace
from itertools import chain

from fleet.circuit.cover_rows import CoverRow, Status
from fleet.circuit.structure import Circuit

_ORDER = tuple(Status)


def as_if_sound(circuit: Circuit) -> Circuit:
    """Return the circuit without what failed results say of it; the same circuit if there is nothing of that kind."""
    if not any(component.failed or component.sound_values is not None for component in circuit.components):
        return circuit
    components = tuple(
        replace(
            component,
            failed="",
            values=component.values if component.sound_values is None else component.sound_values,
            sound_values=None,
        )
        for component in circuit.components
    )
    return replace(circuit, components=components)


def worse_rows(tables: Iterable[Iterable[CoverRow]]) -> list[CoverRow]:
    """Return for each hazard and cause the worst row of these tables."""
    found: dict[tuple[str, str], CoverRow] = {}
    for row in chain.from_iterable(tables):
        key = (row.hazard, row.cause.code)
        if key not in found or _ORDER.index(row.status) < _ORDER.index(found[key].status):
            found[key] = row
    return list(found.values())
