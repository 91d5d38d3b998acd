"""The caption of each component in the picture: its name, its readings, and why it is shut or failed."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.catalogue import GASES
from fleet.circuit.drawing.condition_notes import Mark, Note
from fleet.circuit.drawing.lanes import BREATHING, SCAVENGING
from fleet.circuit.drawing.solved_numbers import (
    AIRWAY,
    breath_lines,
    flow_words,
    gauge_at,
    mix_lines,
    passing_m3_s,
    port_shown,
    pressure_text,
    setting_words,
)
from fleet.circuit.drawing.streams import NOTICED_M3_S
from fleet.circuit.elements.base import Element
from fleet.circuit.solution import Solution
from fleet.circuit.structure import Component
from fleet.drawing import ALARM, INK, REGULAR, SEMIBOLD, SOFT, wrap_text

NAME_LINES, NOTE_LINES = 3, 5
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=%|kPa|psi|cmH2O|L/min|mL/min)")
_HELD = "\ue000"  # marks a blank where no line may break

_PRESSURES = (
    "pipeline-inlet", "cylinder-yoke", "pressure-regulator", "regulator-cutoff", "gauge", "outlet",
    "patient-connection", "reservoir-bag",
)  # fmt: skip
_FLOWS = (
    "flowmeter", "auxiliary-flowmeter", "flush-valve", "outlet", "apl-valve", "ventilator", "scavenging-interface",
    "electronic-mixer", "measured-flow-vaporizer",
)  # fmt: skip
_SPILLS = {"apl-valve": "vents ", "ventilator": "vents ", "scavenging-interface": "takes "}
_GASES = ("outlet", "patient-connection", "electronic-mixer")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a caption."""

    words: str
    font: str
    colour: object


@dataclass(frozen=True, slots=True)
class Caption:
    """All lines under a component, and the marks on it."""

    lines: tuple[Line, ...]
    marks: frozenset[Mark]


def short_name(component: Component, lane: str) -> str:
    """Return the label of a component without the name of the gas of its lane."""
    gas = GASES[lane].name if lane in GASES else ""
    rest = component.label[len(gas) :].strip()
    is_told_twice = gas and rest and component.label.lower().startswith(f"{gas.lower()} ")
    return rest[0].upper() + rest[1:] if is_told_twice else component.label


def name_caption(name: str, width: float, size: float) -> Caption:
    """Return the name alone, wrapped to the width in points."""
    words = wrap_text(name, width, size, lines=NAME_LINES)
    return Caption(tuple(Line(line, REGULAR, INK) for line in words), frozenset())


def solved_caption(
    name: str,
    element: Element,
    notes: Sequence[Note],
    lane: str,
    solution: Solution,
    units: str,
    width: float,
    size: float,
) -> Caption:
    """Return name, readings and notes of a component in a solved state, wrapped to the width in points."""
    notes = [note for note in notes if note.mark is not Mark.HOLDS]
    lines = list(name_caption(name, width, size).lines)
    for words in numbers(element, lane, solution, units):
        lines += [Line(line, SEMIBOLD, INK) for line in wrapped(words, width, size, SEMIBOLD, 2)]
    for note in notes:
        colour = ALARM if note.is_urgent else SOFT
        words = note.words.split(":")[0] if note.mark is Mark.TELLS else note.words  # the head has it in full
        lines += [Line(line, REGULAR, colour) for line in wrapped(words, width, size, REGULAR, NOTE_LINES)]
    return Caption(tuple(lines), frozenset(note.mark for note in notes))


def wrapped(words: str, width: float, size: float, font: str, lines: int) -> list[str]:
    """Return the text in lines, without a break between a number and its unit."""
    held = _BEFORE_UNIT.sub(_HELD, words)
    return [line.replace(_HELD, " ") for line in wrap_text(held, width, size, font, lines=lines)]


def numbers(element: Element, lane: str, solution: Solution, units: str) -> Sequence[str]:
    """Return the readings that the picture shows at a component, each as text."""
    component, found = element.component, []
    port = port_shown(component, solution)
    if component.kind in _PRESSURES and port is not None and not _is_shut_cylinder(element):
        found.append(pressure_text(gauge_at(port, solution), unit_of(lane, units)))
    passing = passing_m3_s(component, solution)
    if component.kind in _FLOWS and passing is not None and (abs(passing) > NOTICED_M3_S or component.kind == "flowmeter"):
        found.append(f"{_SPILLS.get(component.kind, '')}{flow_words(passing)}")
    if component.kind in _GASES and port is not None and _is_fed(component, passing):
        mix = solution.mixes[port]
        found += breath_lines(mix, solution) if component.kind == "patient-connection" else mix_lines(mix)
    if words := setting_words(element):
        found.append(words)
    return found


def _is_shut_cylinder(element: Element) -> bool:
    return element.kind == "cylinder-yoke" and not float(element.setting("is_open"))


def _is_fed(component: Component, passing: float | None) -> bool:
    return component.kind == "patient-connection" or (passing is not None and abs(passing) > NOTICED_M3_S)


def unit_of(lane: str, units: str) -> str:
    """Return the pressure unit of a lane: airway pressures are shown in cmH2O."""
    return AIRWAY if lane in (BREATHING, SCAVENGING) else units


def tallest(captions: Mapping[str, Caption], rows: Mapping[str, int], step: float) -> dict[int, float]:
    """Return the height of the tallest caption of each row, points."""
    heights: dict[int, float] = {}
    for code, caption in captions.items():
        heights[rows[code]] = max(heights.get(rows[code], 0.0), len(caption.lines) * step)
    return heights
