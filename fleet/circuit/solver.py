"""Solves states of a circuit: each as its network at rest, many at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

from fleet.circuit import elements as known
from fleet.circuit.conditions import Kinds
from fleet.circuit.effects import Seen, heard
from fleet.circuit.elements.base import BODY, Element
from fleet.circuit.gases import Mix
from fleet.circuit.locations import patient_of
from fleet.circuit.resting import rest_of
from fleet.circuit.solution import BranchFlow, NoSolution, Solution
from fleet.circuit.solution_arrays import BranchFlows, PortMixes, PortPressures, Rest
from fleet.circuit.stacking import LawBook
from fleet.circuit.state import Fault, State
from fleet.circuit.structure import Circuit, Port
from fleet.circuit.workshop import Built, Workshop

HIGHEST_IMBALANCE = 1e-9
MOST_AT_ONCE = 512  # networks in one batch, so that its arrays stay small
OXYGEN = Mix.supply("oxygen")


class Asked(NamedTuple):
    """A state to solve; `start` is a solution of the same circuit, or of one much like it, to start from."""

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


def workshop_of(circuit: Circuit, kinds: Kinds | None = None, book: LawBook | None = None) -> Workshop:
    """Return the workshop of a circuit; `book` is that of the circuits whose states are to be solved together."""
    return Workshop(circuit, known.ELEMENTS if kinds is None else kinds, book)


def solve_all(workshop: Workshop, asked: Sequence[Asked]) -> list[Solution | NoSolution]:
    """Return for each state its solution, or why it has none. Networks that are equal are solved once."""
    return [found.solution if isinstance(found, Seen) else found for found in solve_together([(workshop, asked)])[0]]


def solve_together(asked: Sequence[tuple[Workshop, Sequence[Asked]]]) -> list[list[Seen | NoSolution]]:
    """Return what solve_all does, each solution evaluated, for several circuits, whose networks are solved at once.

    The laws of all workshops are in one book.
    """
    built = [[_built(workshop, each) for each in states] for workshop, states in asked]
    waiting: dict[int, Waiting] = {}
    for (workshop, states), row in zip(asked, built, strict=True):
        for each, made in zip(states, row, strict=True):
            if isinstance(made, Built) and id(made.net) not in workshop.known:
                waiting.setdefault(id(made.net), Waiting(workshop, made, each.start))
    bring_to_rest(list(waiting.values()))
    return [
        [
            made if isinstance(made, NoSolution) else seen_in(workshop, each, made)
            for each, made in zip(states, row, strict=True)
        ]
        for (workshop, states), row in zip(asked, built, strict=True)
    ]


def _built(workshop: Workshop, asked: Asked) -> Built | NoSolution:
    try:
        return workshop.build(asked.state, sorted(asked.faults, key=str), asked.removed)
    except NoSolution as error:
        return error


class Waiting(NamedTuple):
    """A network that is not yet solved, and a solution to start from."""

    workshop: Workshop
    built: Built
    start: Solution | None

    @property
    def patient(self) -> Port | None:
        """The port at which the first patient breathes in."""
        patient = patient_of(self.workshop.circuit)
        return None if patient is None else Port(patient.code, "in")

    @property
    def bodies(self) -> dict[str, Element]:
        return {element.component.code: element for element in self.built.elements}


def bring_to_rest(waiting: Sequence[Waiting]) -> None:
    """Solve networks; those that fail from a similar start are solved again from room air everywhere."""
    for first in range(0, len(waiting), MOST_AT_ONCE):
        some = waiting[first : first + MOST_AT_ONCE]
        found = rest_of(
            [each.built.net for each in some],
            [each.start.rest if each.start else None for each in some],
            [each.bodies for each in some],
            [each.patient for each in some],
            [each.workshop.circuit.ambient_pa_abs for each in some],
        )
        for each, rest in zip(some, found, strict=True):
            each.workshop.known[id(each.built.net)] = rest
        again = [
            each._replace(start=None)
            for each, rest in zip(some, found, strict=True)
            if each.start and (isinstance(rest, NoSolution) or not rest.imbalance <= HIGHEST_IMBALANCE)
        ]
        if again:
            bring_to_rest(again)


def seen_in(workshop: Workshop, asked: Asked, built: Built) -> Seen | NoSolution:
    """Return what the solution of a state means, whose network is at rest."""
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
    seen = Seen(solution)
    seen.solution = replace(solution, told=heard(built.elements, seen))
    return seen


__all__ = ["Asked", "Rest", "solve", "solve_all", "solve_together", "workshop_of"]
