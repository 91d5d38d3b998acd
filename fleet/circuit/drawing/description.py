"""The picture in words: one row for each component, in order of flow, and a short summary."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.catalogue import COMPONENT_KINDS, GASES
from fleet.circuit.conditions import elements_of
from fleet.circuit.drawing.captions import unit_of
from fleet.circuit.drawing.condition_notes import Mark, Note, notes_by_component
from fleet.circuit.drawing.lanes import LANES, lane_name, lanes_of
from fleet.circuit.drawing.placing import Place, placed
from fleet.circuit.drawing.solved_numbers import (
    breath_words,
    flow_words,
    gauge_at,
    passing_m3_s,
    port_shown,
    pressure_text,
    setting_words,
    supply_words,
)
from fleet.circuit.drawing.summary import alarms_of, reaches_patient, title_of
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.elements.base import Element
from fleet.circuit.solution import Solution
from fleet.circuit.structure import Circuit, Component

UNFOLDED = 1000  # more columns than any circuit needs


@dataclass(frozen=True, slots=True)
class ComponentLine:
    """One component as the picture shows it, as text.

    code, component, kind  its code, label, and the name of its kind
    lane              the name of its lane: a gas, mixed gas, breathing system, scavenging
    gas               its gas, empty for mixed gas
    pressure, flow    gauge pressure and flow at 20 C and 101.325 kPa, empty if there are none
    content           the gas in it, empty if nothing is solved or nothing is in it
    note              settings, closures, failures and alarms with their reasons, else empty
    is_urgent         whether the picture shows the note in red
    """

    code: str
    component: str
    kind: str
    lane: str
    gas: str
    pressure: str = ""
    flow: str = ""
    content: str = ""
    note: str = ""
    is_urgent: bool = False


def in_words(circuit: Circuit, solution: Solution | None = None, *, units: str = "kPa") -> tuple[ComponentLine, ...]:
    """Return every component once, lane by lane from supplies to patient and back, in an order of its own.

    units  "kPa" or "psi" for supply pressures; airway pressures are in cmH2O
    """
    lanes = lanes_of(circuit)
    places = placed(circuit, UNFOLDED).places
    components = sorted(circuit.components, key=lambda component: _along(component, lanes, places))
    if solution is None:
        return tuple(_named(component, lanes) for component in components)
    elements = elements_of(circuit, solution.state, solution.faults, solution.removed, ELEMENTS)
    notes = notes_by_component(elements, solution, units)
    return tuple(
        _solved(elements[component.code], notes[component.code], lanes, solution, units) for component in components
    )


def _along(component: Component, lanes: Mapping[str, str], places: Mapping[str, Place]):
    place = places[component.code]
    column = -place.column if place.is_mirrored else place.column
    return LANES.index(lanes[component.code]), place.is_mirrored, column, place.row, component.code


def _named(component: Component, lanes: Mapping[str, str]) -> ComponentLine:
    gas = GASES[component.gas].name if component.gas in GASES else ""
    kind = COMPONENT_KINDS[component.kind].name if component.kind in COMPONENT_KINDS else component.kind
    return ComponentLine(component.code, component.label, kind, lane_name(lanes[component.code]).capitalize(), gas)


def _solved(element: Element, notes: Sequence[Note], lanes: Mapping[str, str], solution, units: str) -> ComponentLine:
    component = element.component
    named = _named(component, lanes)
    port, passing = port_shown(component, solution), passing_m3_s(component, solution)
    pressure = content = ""
    if port is not None:
        pressure = pressure_text(gauge_at(port, solution), unit_of(lanes[component.code], units))
        is_supply = lanes[component.code] in GASES
        content = supply_words(port, passing, solution) if is_supply else breath_words(solution.mixes[port], solution)
    said = [words for words in (setting_words(element), *(note.words for note in notes)) if words]
    return ComponentLine(
        named.code, named.component, named.kind, named.lane, named.gas,
        pressure=pressure,
        flow="" if passing is None else flow_words(passing),
        content=content,
        note="; ".join(said),
        is_urgent=any(note.is_urgent for note in notes),
    )  # fmt: skip


def title_and_description(circuit: Circuit, solution: Solution | None = None, *, units: str = "kPa") -> tuple[str, str]:
    """Return the text for a screen reader: a title, and what reaches the patient, is cut off, fails or alarms."""
    title = title_of(circuit, solution)
    if solution is None:
        return title, _components_said(circuit)
    elements = elements_of(circuit, solution.state, solution.faults, solution.removed, ELEMENTS)
    noted = notes_by_component(elements, solution, units)
    urgent = [
        f"{elements[code].component.label}: {note.words}."
        for code in sorted(noted)
        for note in noted[code]
        if note.is_urgent and note.mark is not Mark.TELLS
    ]
    return title, " ".join([reaches_patient(solution, units), *alarms_of(solution), *urgent])


def _components_said(circuit: Circuit) -> str:
    gases = sorted({component.gas for component in circuit.components if component.gas in GASES}, key=LANES.index)
    names = ", ".join(GASES[gas].name.lower() for gas in gases)
    return f"{len(circuit.components)} components from the supplies ({names or 'none'}) to outlet and patient."
