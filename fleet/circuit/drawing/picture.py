"""The picture of a circuit: laid out automatically, with flows, cut-offs and their reasons."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, hypot

from reportlab.graphics.shapes import Drawing, Group

from fleet.circuit.conditions import elements_of
from fleet.circuit.drawing.captions import Caption, name_caption, short_name, solved_caption, tallest
from fleet.circuit.drawing.condition_notes import Mark, notes_by_component
from fleet.circuit.drawing.frame import FOOT_SIZE, draw_foot, draw_head, draw_lanes, foot_height, head_lines
from fleet.circuit.drawing.gas_lines import COLOURS, halo, pipe, still_pipe
from fleet.circuit.drawing.lanes import lanes_of
from fleet.circuit.drawing.layout import Layout, laid_out
from fleet.circuit.drawing.sheet import BODY_H, BODY_W, FOOT, Sheet, cell_width, measured
from fleet.circuit.drawing.signs import arrow, bar, corner, loose_ends, wrong_end
from fleet.circuit.drawing.solved_numbers import UNITS
from fleet.circuit.drawing.streams import Stream, Stretch, drawn_streams, solved_streams
from fleet.circuit.drawing.symbols import WIDE, symbol
from fleet.circuit.drawing.wires import Wire, wired
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.solution import Solution
from fleet.circuit.structure import Circuit, Component
from fleet.drawing import INK, SHEET, box, label, rule

NARROWEST = 420.0  # points
LEAST_TEXT, MOST_TEXT = 11.5, 13.5
LINE_STEP = 1.16  # of the text size
BAR_AT = 19.0  # from the middle of a component towards its gas outlet
LONG = 90.0  # from this length a segment gets an arrow in its middle too
PIPE_WIDTHS = ((0.5e-3 / 60, 2.4), (15e-3 / 60, 3.4))  # flow up to, width in points; more is WIDE_PIPE
WIDE_PIPE = 5.0


@dataclass(frozen=True, slots=True)
class Scene:
    """The complete data of a drawing."""

    circuit: Circuit
    solution: Solution | None
    lanes: Mapping[str, str]
    layout: Layout
    sheet: Sheet
    captions: Mapping[str, Caption]
    wires: Sequence[Wire]
    streams: Sequence[Stream]
    text: float
    colours: str
    units: str


def draw_circuit(
    circuit: Circuit, solution: Solution | None = None, *, colours: str = "iso", units: str = "kPa", width: float = 1100
) -> Drawing:
    """Draw a circuit, `width` points wide and as high as needed, whatever the order of components and connections.

    Supplies are at the left, outlet and patient at the right, one lane for each gas and then mixed gas, breathing
    system and scavenging. With a solution it shows the state: flows, pressures, what is shut and why.

    colours  "iso" (ISO 32) or "us" (CGA C-9); every gas also has its own line pattern
    units    "kPa" or "psi" for supply pressures, gauge; the breathing system is in cmH2O, flows in L/min at 20 C and
             101.325 kPa
    width    at least 420; below about 1000 the circuit is folded into more bands

    Raises ValueError for other colours, units or a smaller width.
    """
    _check("colours", colours, COLOURS)
    _check("units", units, UNITS)
    if width < NARROWEST:
        raise ValueError(f"width is {width!r}; accepted: {NARROWEST:g} points or more.")
    scene = scene_of(circuit, solution, colours, units, width)
    drawing = Drawing(ceil(width), ceil(scene.sheet.height))
    drawing.add(box(0, 0, drawing.width, drawing.height, SHEET))
    draw_lanes(drawing, scene)
    _draw_pipes(drawing, scene)
    for component in sorted(circuit.components, key=lambda component: component.code):
        _draw_component(drawing, scene, component)
    draw_head(drawing, scene)
    draw_foot(drawing, scene)
    return drawing


def _check(name: str, value: str, accepted) -> None:
    if value not in accepted:
        raise ValueError(f"{name} is {value!r}; accepted: {', '.join(accepted)}.")


def scene_of(circuit: Circuit, solution: Solution | None, colours: str, units: str, width: float) -> Scene:
    """Return the positions and texts of a drawing; the arguments are those of draw_circuit, which checks them."""
    lanes = lanes_of(circuit)
    layout = laid_out(circuit, width, solution.state.made if solution else ())
    cell = cell_width(layout.grid, layout.tracks, width)
    text = min(MOST_TEXT, max(LEAST_TEXT, cell / 7))
    names = {component.code: short_name(component, lanes[component.code]) for component in circuit.components}
    captions = _captions(circuit, solution, lanes, names, units, cell, text)
    rows = {code: place.row for code, place in layout.grid.places.items()}
    above = len(head_lines(circuit, solution, units, width)) * FOOT_SIZE * 1.4 + 14
    below = foot_height(circuit, captions, lanes, solution is not None, width)
    sheet = measured(layout.grid, layout.tracks, width, tallest(captions, rows, text * LINE_STEP), above, below)
    wires = wired(layout.routes, layout.tracks, sheet)
    drawn = drawn_streams(circuit, wires, lanes)
    streams = solved_streams(solution, wires, drawn) if solution else drawn
    return Scene(circuit, solution, lanes, layout, sheet, captions, wires, streams, text, colours, units)


def _captions(circuit: Circuit, solution: Solution | None, lanes, names, units: str, cell: float, text: float):
    if solution is None:
        return {component.code: name_caption(names[component.code], cell, text) for component in circuit.components}
    elements = elements_of(circuit, solution.state, solution.faults, solution.removed, ELEMENTS)
    notes = notes_by_component(elements, solution, units)
    return {
        code: solved_caption(names[code], one, notes[code], lanes[code], solution, units, cell, text)
        for code, one in elements.items()
    }


def _draw_pipes(drawing: Drawing, scene: Scene) -> None:
    still = [stream for stream in scene.streams if not any(stretch.flows for stretch in stream.stretches)]
    for stream in [*still, *(stream for stream in scene.streams if stream not in still)]:
        drawing.add(_pipes_of(stream, scene))
    for stream in scene.streams:
        for sign in [*map(loose_ends, stream.gaps), *map(wrong_end, _wrong_ends(stream))]:
            drawing.add(sign)


def _wrong_ends(stream: Stream):
    return sorted(stream.wire.ends.values()) if stream.wire.route.net.is_made else []


def _pipes_of(stream: Stream, scene: Scene) -> Group:
    """Return one net: white margins first, then lines without flow, then lines with flow, knots and arrows on top."""
    group = Group()
    flowing = [stretch for stretch in stream.stretches if stretch.flows and not stretch.is_pilot]
    resting = [stretch for stretch in stream.stretches if stretch not in flowing]
    group.add(halo([_ends(stretch) for stretch in resting], 2))
    group.add(halo([_ends(stretch) for stretch in flowing], 3))
    for stretch in resting:
        group.add(still_pipe([_ends(stretch)], stretch.gas))
    for gas, width in sorted({(stretch.gas, _width(stretch)) for stretch in flowing}):
        group.add(pipe([_ends(s) for s in flowing if (s.gas, _width(s)) == (gas, width)], gas, scene.colours, width))
    for x, y in stream.wire.knots:
        group.add(box(x - 3, y - 3, 6, 6, INK))
    for stretch in flowing:
        for tip in _arrows(stretch, set(stream.wire.ends.values())):
            group.add(tip)
    return group


def _ends(stretch: Stretch):
    return stretch.start, stretch.end


def _width(stretch: Stretch) -> float:
    flow = PIPE_WIDTHS[1][0] if stretch.flow_m3_s is None else stretch.flow_m3_s
    return next((width for most, width in PIPE_WIDTHS if flow <= most), WIDE_PIPE)


def _arrows(stretch: Stretch, ends) -> list:
    (x1, y1), (x2, y2) = stretch.start, stretch.end
    found = [arrow(stretch.start, stretch.end)] if stretch.end in ends else []
    if hypot(x2 - x1, y2 - y1) > LONG:
        middle = (x1 + x2) / 2, (y1 + y2) / 2
        found.append(arrow(stretch.start, middle))
    return found


def _draw_component(drawing: Drawing, scene: Scene, component: Component) -> None:
    place, caption = scene.layout.grid.places[component.code], scene.captions[component.code]
    x, y = scene.sheet.columns[place.column], scene.sheet.rows[place.row]
    for stub in _stubs(scene, component, x, y):
        drawing.add(stub)
    drawing.add(symbol(component.kind, x, y, place.is_mirrored))
    _draw_marks(drawing, caption, x, y, place.is_mirrored)
    top = y - BODY_H / 2 - FOOT
    for number, line in enumerate(caption.lines, 1):
        base = top - number * scene.text * LINE_STEP + scene.text * 0.26
        drawing.add(label(x, base, line.words, scene.text, font=line.font, anchor="middle", colour=line.colour))


def _stubs(scene: Scene, component: Component, x: float, y: float) -> list:
    """Return the line from the middle of a side to a connection that meets it higher or lower."""
    if component.kind in WIDE:
        return []
    points = [point for wire in scene.wires for port, point in wire.ends.items() if port.component == component.code]
    sides = [(px, py) for px, py in points if abs(abs(px - x) - BODY_W / 2) < 0.01 and abs(py - y) > 0.01]
    return [rule(px, py, px, y, width=1.3) for px, py in sides]


def _draw_marks(drawing: Drawing, caption: Caption, x: float, y: float, is_mirrored: bool) -> None:
    for mark in (Mark.CUT, Mark.SHUT):
        if mark in caption.marks:
            drawing.add(bar(x + (-BAR_AT if is_mirrored else BAR_AT), y, mark))
            break
    signs = [mark for mark in (Mark.FAILED, Mark.MOVED, Mark.WRONG, Mark.TELLS, Mark.OPEN) if mark in caption.marks]
    if signs:
        drawing.add(corner(x, y, signs[0]))
