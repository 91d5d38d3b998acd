"""Solves states of a circuit: each as its network at rest, many at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

from fleet.circuit import elements as known
from fleet.circuit.conditions import Kinds
from fleet.circuit.effects import heard
from fleet.circuit.elements.base import BODY
from fleet.circuit.gases import Mix
from fleet.circuit.locations import patient_of
from fleet.circuit.resting import rest_of
from fleet.circuit.solution import BranchFlow, NoSolution, Solution
from fleet.circuit.solution_arrays import BranchFlows, PortMixes, PortPressures, Rest
from fleet.circuit.state import Fault, State
from fleet.circuit.structure import Circuit, Port
from fleet.circuit.workshop import Built, Workshop

HIGHEST_IMBALANCE = 1e-9
MOST_AT_ONCE = 512  # networks in one batch, so that its arrays stay small
OXYGEN = Mix.supply("oxygen")


class Asked(NamedTuple):
    """A state to solve; `start` is a solution of the same circuit to start from."""

    state: State
    faults: tuple[Fault, ...] = ()
    removed: frozenset[str] = frozenset()
    start: Solution | None = None


def solve(
    circuit: Circuit,
    state: State,
    faults: Iterable[Fault] = (),
    removed: Iterable[str] = (),
    *,
    start: Solution | None = None,
    kinds: Kinds | None = None,
) -> Solution:
    """Return the steady pressures, flows and mixtures of a circuit in a state.

    faults   at most one for each component
    removed  codes of features whose action is removed in all components that provide them
    start    a solution of the same circuit to start from; it saves time and does not change the result
    kinds    element classes by component kind, by default those of fleet.circuit.elements

    The order of components, connections and faults does not matter. Raises NoSolution, which names place and reason.
    """
    asked = Asked(state, tuple(faults), frozenset(removed), start)
    (found,) = solve_all(workshop_of(circuit, kinds), [asked])
    if isinstance(found, NoSolution):
        raise found
    return found


def workshop_of(circuit: Circuit, kinds: Kinds | None = None) -> Workshop:
    return Workshop(circuit, known.ELEMENTS if kinds is None else kinds)


def solve_all(workshop: Workshop, asked: Sequence[Asked]) -> list[Solution | NoSolution]:
    """Return for each state its solution, or why it has none. Networks that are equal are solved once."""
    built: list[Built | NoSolution] = []
    for each in asked:
        try:
            built.append(workshop.build(each.state, sorted(each.faults, key=str), each.removed))
        except NoSolution as error:
            built.append(error)
    waiting = {}
    for each, made in zip(asked, built, strict=True):
        if isinstance(made, Built) and id(made.net) not in workshop.known:
            waiting.setdefault(id(made.net), (made, each.start))
    bring_to_rest(workshop, list(waiting.values()))
    return [
        made if isinstance(made, NoSolution) else solution_of(workshop, each, made)
        for each, made in zip(asked, built, strict=True)
    ]


def bring_to_rest(workshop: Workshop, waiting: Sequence[tuple[Built, Solution | None]]) -> None:
    """Solve networks; those that fail from a similar start are solved again from room air everywhere."""
    patient = patient_of(workshop.circuit)
    port = None if patient is None else Port(patient.code, "in")
    for first in range(0, len(waiting), MOST_AT_ONCE):
        some = waiting[first : first + MOST_AT_ONCE]
        starts = [start.rest if start else None for _, start in some]
        nets = [built.net for built, _ in some]
        bodies = [{element.component.code: element for element in built.elements} for built, _ in some]
        found = rest_of(nets, starts, bodies, [port] * len(some), workshop.circuit.ambient_pa_abs)
        workshop.known.update({id(net): rest for net, rest in zip(nets, found, strict=True)})
        again = [
            (built, None)
            for (built, start), rest in zip(some, found, strict=True)
            if start and (isinstance(rest, NoSolution) or not rest.imbalance <= HIGHEST_IMBALANCE)
        ]
        if again:
            bring_to_rest(workshop, again)


def solution_of(workshop: Workshop, asked: Asked, built: Built) -> Solution | NoSolution:
    """Return the solution of a state whose network is at rest."""
    rest, circuit = workshop.known[id(built.net)], workshop.circuit
    if isinstance(rest, NoSolution):
        return rest
    if not rest.imbalance <= HIGHEST_IMBALANCE:
        return NoSolution(
            f"The flows of {circuit} do not balance: the difference at a junction is {rest.imbalance:.1e} of the "
            f"largest flow; accepted: {HIGHEST_IMBALANCE:.0e} at most. Look for values far outside the usual range."
        )
    uptakes = {
        (code, "uptake"): BranchFlow(code, "uptake", Port(code, "out"), BODY, flow, OXYGEN)
        for code, flow in rest.uptakes.items()
    }
    patient = patient_of(circuit)
    solution = Solution(
        circuit=circuit,
        state=asked.state,
        faults=tuple(sorted(asked.faults, key=str)),
        removed=asked.removed,
        pressures_pa_abs=PortPressures(rest),
        mixes=PortMixes(rest),
        flows=BranchFlows(rest, uptakes),
        carbon_dioxide=rest.carbon_dioxide,
        passes=rest.passes,
        imbalance=rest.imbalance,
        traced={} if rest.traced is None else {patient.code: rest.traced},
        rest=rest,
    )
    return replace(solution, told=heard(built.elements, solution))


__all__ = ["Asked", "Rest", "solve", "solve_all", "workshop_of"]
