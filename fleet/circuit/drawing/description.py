"""The picture in words: one row for each component, in order of flow, and a short summary."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.catalogue import COMPONENT_KINDS, GASES
from fleet.circuit.drawing.captions import unit_of
from fleet.circuit.drawing.condition_notes import Mark, Note, notes_by_part
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
from fleet.circuit.solver import elements_of
from fleet.circuit.structure import Circuit, Part

UNFOLDED = 1000  # more columns than any circuit needs


@dataclass(frozen=True, slots=True)
class PartLine:
    """One component as the picture shows it, as text.

    code, part, kind  its code, label, and the name of its kind
    lane              the name of its lane: a gas, mixed gas, breathing system, scavenging
    gas               its gas, empty for mixed gas
    pressure, flow    gauge pressure and flow at 20 C and 101.325 kPa, empty if there are none
    content           the gas in it, empty if nothing is solved or nothing is in it
    note              settings, closures, failures and alarms with their reasons, else empty
    is_urgent         whether the picture shows the note in red
    """

    code: str
    part: str
    kind: str
    lane: str
    gas: str
    pressure: str = ""
    flow: str = ""
    content: str = ""
    note: str = ""
    is_urgent: bool = False


def in_words(circuit: Circuit, solution: Solution | None = None, *, units: str = "kPa") -> tuple[PartLine, ...]:
    """Return every component once, lane by lane from supplies to patient and back, in an order of its own.

    units  "kPa" or "psi" for supply pressures; airway pressures are in cmH2O
    """
    lanes = lanes_of(circuit)
    places = placed(circuit, UNFOLDED).places
    parts = sorted(circuit.parts, key=lambda part: _along(part, lanes, places))
    if solution is None:
        return tuple(_named(part, lanes) for part in parts)
    elements = elements_of(circuit, solution.state, solution.faults, solution.removed, ELEMENTS)
    notes = notes_by_part(elements, solution, units)
    return tuple(_solved(elements[part.code], notes[part.code], lanes, solution, units) for part in parts)


def _along(part: Part, lanes: Mapping[str, str], places: Mapping[str, Place]):
    place = places[part.code]
    column = -place.column if place.is_mirrored else place.column
    return LANES.index(lanes[part.code]), place.is_mirrored, column, place.row, part.code


def _named(part: Part, lanes: Mapping[str, str]) -> PartLine:
    gas = GASES[part.gas].name if part.gas in GASES else ""
    kind = COMPONENT_KINDS[part.kind].name if part.kind in COMPONENT_KINDS else part.kind
    return PartLine(part.code, part.label, kind, lane_name(lanes[part.code]).capitalize(), gas)


def _solved(element: Element, notes: Sequence[Note], lanes: Mapping[str, str], solution, units: str) -> PartLine:
    part = element.part
    named = _named(part, lanes)
    port, passing = port_shown(part, solution), passing_m3_s(part, solution)
    pressure = content = ""
    if port is not None:
        pressure = pressure_text(gauge_at(port, solution), unit_of(lanes[part.code], units))
        is_supply = lanes[part.code] in GASES
        content = supply_words(port, passing, solution) if is_supply else breath_words(solution.mixes[port], solution)
    said = [words for words in (setting_words(element), *(note.words for note in notes)) if words]
    return PartLine(
        named.code, named.part, named.kind, named.lane, named.gas,
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
        return title, _parts_said(circuit)
    elements = elements_of(circuit, solution.state, solution.faults, solution.removed, ELEMENTS)
    noted = notes_by_part(elements, solution, units)
    urgent = [
        f"{elements[code].part.label}: {note.words}."
        for code in sorted(noted)
        for note in noted[code]
        if note.is_urgent and note.mark is not Mark.TELLS
    ]
    return title, " ".join([reaches_patient(solution, units), *alarms_of(solution), *urgent])


def _parts_said(circuit: Circuit) -> str:
    gases = sorted({part.gas for part in circuit.parts if part.gas in GASES}, key=LANES.index)
    names = ", ".join(GASES[gas].name.lower() for gas in gases)
    return f"{len(circuit.parts)} components from the supplies ({names or 'none'}) to outlet and patient."
