"""The frame around the circuit: the head with the state, the names of the lanes, and the key to the lines."""

from reportlab.graphics.shapes import Drawing, Group

from fleet.catalogue import FEATURES, GASES
from fleet.circuit.drawing.lanes import MIXED, lane_name
from fleet.circuit.drawing.line_key import STEP, key, key_entries, key_rows
from fleet.circuit.drawing.sheet import LANE_GAP, MARGIN, TAB
from fleet.circuit.drawing.summary import alarms_of, reaches_patient, title_of
from fleet.circuit.solution import Solution
from fleet.circuit.structure import Circuit
from fleet.drawing import (
    ACCENT_WASH,
    ALARM,
    EDGE,
    INK,
    REGULAR,
    SEMIBOLD,
    SOFT,
    box,
    fit_text,
    label,
    rule,
    wrap_text,
)

FOOT_SIZE = 13.0
HEAD_LINES = 3  # of each paragraph
ALARM_LINES = 6


def head_lines(circuit: Circuit, solution: Solution | None, units: str, width: float):
    """Return (words, font, colour) of the lines above the circuit."""
    lines = [(title_of(circuit, solution), SEMIBOLD, INK)]
    if solution is not None:
        lines.append((reaches_patient(solution, units), REGULAR, INK))
        lines += [(words, SEMIBOLD, ALARM) for words in alarms_of(solution)[:ALARM_LINES]]
    inner = width - 2 * MARGIN
    return [
        (line, font, colour)
        for words, font, colour in lines
        for line in wrap_text(words, inner, FOOT_SIZE, font, lines=HEAD_LINES)
    ]


def foot_height(circuit: Circuit, captions, lanes, is_solved: bool, width: float) -> float:
    """Return the space for the key and the list of other fitted features, points; the key may include room air."""
    gases = {*(lane for lane in lanes.values() if lane in GASES), "air", MIXED}
    rows = key_rows(key_entries(gases, captions, is_solved, width - 2 * MARGIN))
    return rows * STEP + (len(foot_lines(circuit, width)) + 1.3) * FOOT_SIZE * 1.4


def foot_lines(circuit: Circuit, width: float) -> list[str]:
    """Return the lines that name fitted features outside the gas path."""
    names = sorted(FEATURES[code].name for code in circuit.fittings if code in FEATURES)
    if not names:
        return []
    return wrap_text(f"Also fitted: {', '.join(names)}.", width - 2 * MARGIN, FOOT_SIZE, lines=6)


def draw_head(drawing: Drawing, scene) -> None:
    y = drawing.height
    for words, font, colour in head_lines(scene.circuit, scene.solution, scene.units, drawing.width):
        y -= FOOT_SIZE * 1.4
        drawing.add(label(MARGIN, y, words, FOOT_SIZE, font=font, colour=colour))


def draw_lanes(drawing: Drawing, scene) -> None:
    """Draw the name of each lane vertically at the left, with a line between lanes."""
    sheet = scene.sheet
    for number, strip in enumerate(scene.layout.grid.strips):
        top, foot = sheet.row_tops[strip.first], sheet.row_feet[strip.last]
        drawing.add(box(MARGIN, foot, TAB - 2 * MARGIN, top - foot, ACCENT_WASH))
        drawing.add(_turned(strip.lanes, MARGIN + (TAB - 2 * MARGIN) / 2, (top + foot) / 2, top - foot - 4))
        if number:
            y = sheet.channels[strip.first] + LANE_GAP / 2
            drawing.add(rule(MARGIN, y, drawing.width - MARGIN, y, colour=EDGE, width=0.6, dash=[1, 3]))


def _turned(lanes: tuple[str, ...], x: float, y: float, length: float) -> Group:
    """Return the names of the lanes of a strip, from the bottom, and the formula under the name of a gas."""
    group, gas = Group(transform=(0, 1, -1, 0, x, y)), lanes[0]
    formula = GASES[gas].formula if gas in GASES and GASES[gas].formula != gas else ""
    name = fit_text(_sentence(", ".join(lane_name(lane) for lane in lanes)), length, FOOT_SIZE, SEMIBOLD)
    group.add(label(0, 2 if formula else -4.5, name, FOOT_SIZE, font=SEMIBOLD, anchor="middle"))
    if formula:
        group.add(label(0, -11, formula, FOOT_SIZE - 1, anchor="middle", colour=SOFT))
    return group


def _sentence(words: str) -> str:
    return words[0].upper() + words[1:]


def draw_foot(drawing: Drawing, scene) -> None:
    """Draw the key to the lines, and the fitted features outside the gas path."""
    lines = foot_lines(scene.circuit, drawing.width)
    y = (len(lines) + 0.3) * FOOT_SIZE * 1.4
    for number, words in enumerate(lines):
        drawing.add(label(MARGIN, y - (number + 0.8) * FOOT_SIZE * 1.4, words, FOOT_SIZE, colour=SOFT))
    shown = {stretch.gas for stream in scene.streams for stretch in stream.stretches}
    entries = key_entries(shown, scene.captions, scene.solution is not None, drawing.width - 2 * MARGIN)
    drawing.add(key(entries, MARGIN, y + key_rows(entries) * STEP, scene.colours))
