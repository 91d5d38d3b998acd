"""The data of a circuit for page and paper: one state or one fault, solved, drawn and described in words."""

from dataclasses import dataclass

from reportlab.graphics.shapes import Drawing

from fleet.circuit.causes import causes_of
from fleet.circuit.cover_rows import CauseGroup
from fleet.circuit.drawing import ComponentLine, draw_circuit, in_words, title_and_description
from fleet.circuit.elements.base import Told
from fleet.circuit.solution import NoSolution, Solution
from fleet.circuit.solver import solve
from fleet.circuit.state import Fault, State
from fleet.circuit.structure import Circuit
from fleet.circuit.usual_states import ordinary_state, states_to_show
from fleet.drawing import to_svg
from fleet.web.inline_svg import inline_svg

UNITS = ("kPa", "psi")
ORDINARY = "state:ordinary"
GROUPS = {
    CauseGroup.USE: "Single failure: use",
    CauseGroup.SUPPLY: "Single failure: supplies",
    CauseGroup.COMPONENT: "Single failure: components",
    CauseGroup.CONNECTION: "Single failure: hoses and connections",
}
PAGE_WIDTH = 1100
NOT_SOLVED = "Pressures and flows are not computed."


@dataclass(frozen=True, slots=True)
class Choice:
    """A state of use or a single failure that can be chosen: its key in the address, its text."""

    key: str
    title: str
    state: State
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True)
class CircuitView:
    """A circuit as shown: the choice, the drawing, its description in words, and the messages of alarms and monitors.

    said      title and description of the drawing for screen readers
    solution  None if nothing was computed; `reason` then says why in a sentence
    """

    choice: Choice | None
    drawing: Drawing
    said: tuple[str, str]
    lines: tuple[ComponentLine, ...]
    told: tuple[Told, ...]
    solution: Solution | None
    reason: str = ""

    @property
    def title(self):
        return self.choice.title if self.choice and self.solution else "Components and connections"

    @property
    def alarms(self):
        """The alarms of safety features; gauge readings are at their place in the drawing."""
        return [told for told in self.told if told.feature]

    def svg(self):
        """Return the drawing for a page; the table below it has the same content by component."""
        return inline_svg(to_svg(self.drawing, *self.said, key="circuit"))


def choices_of(circuit: Circuit) -> list[tuple[str, list[Choice]]]:
    """Return the choices, in groups: ordinary use and its states first, then every single failure."""
    states = [Choice(f"state:{state.code}", state.title, state) for state in states_to_show(circuit)]
    groups = {"State of use": states, **{title: [] for title in GROUPS.values()}}
    for cause in causes_of(circuit):
        choice = Choice(f"cause:{cause.code}", cause.title, cause.state, tuple(cause.faults))
        groups[GROUPS[cause.group]].append(choice)
    return [(title, found) for title, found in groups.items() if found]


def pick(groups, key):
    """Return the choice with that key, or None."""
    return next((choice for _, choices in groups for choice in choices if choice.key == key), None)


def ordinary(circuit):
    state = ordinary_state(circuit)
    return Choice(ORDINARY, state.title, state)


def view_of(found, choice, *, units="kPa", colours="iso", width=PAGE_WIDTH):
    """Return a machine's circuit for one choice; without solution if it cannot be solved.

    found   a MachineCircuit with a circuit
    choice  one of choices_of its circuit, or None to show the components alone
    """
    solution, reason = None, ""
    if choice is not None and found.can_be_solved:
        try:
            solution = solve(found.circuit, choice.state, choice.faults)
        except NoSolution as error:
            reason = f"{choice.title}: {error}"
    elif found.problems:
        reason = f"{NOT_SOLVED} The circuit has the problems listed above."
    drawing = draw_circuit(found.circuit, solution, colours=colours, units=units, width=width)
    lines = in_words(found.circuit, solution, units=units)
    said = title_and_description(found.circuit, solution, units=units)
    return CircuitView(choice, drawing, said, tuple(lines), solution.told if solution else (), solution, reason)
