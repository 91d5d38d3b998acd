"""Boxes and pipes of a picture, as it places them, and what they must not do to each other."""

from itertools import combinations

from fleet.circuit.drawing.picture import LINE_STEP, scene_of
from fleet.circuit.drawing.sheet import BODY_H, BODY_W, FOOT
from fleet.drawing import text_width


def scene(circuit, solution=None, width=1100):
    return scene_of(circuit, solution, "iso", "kPa", width)


def boxes(scene):
    """Return (code, left, bottom, right, top) of the body and of the words of each component."""
    found = []
    for code, place in scene.layout.grid.places.items():
        x, y = scene.sheet.columns[place.column], scene.sheet.rows[place.row]
        found.append((code, x - BODY_W / 2, y - BODY_H / 2, x + BODY_W / 2, y + BODY_H / 2))
        lines = scene.captions[code].lines
        half = max((text_width(line.words, scene.text, line.font) for line in lines), default=0) / 2
        top = y - BODY_H / 2 - FOOT
        found.append((code, x - half, top - len(lines) * scene.text * LINE_STEP, x + half, top))
    return found


def overlapping_boxes(scene):
    return [
        (one[0], other[0])
        for one, other in combinations(boxes(scene), 2)
        if min(one[3], other[3]) - max(one[1], other[1]) > 0.01 and min(one[4], other[4]) - max(one[2], other[2]) > 0.01
    ]


def pipes_through_boxes(scene):
    """Return (component, pipe) where a pipe enters a body or its words, rather than end at the edge of a body."""
    found, standing = [], boxes(scene)
    for wire in scene.wires:
        for (x1, y1), (x2, y2) in wire.edges:
            low_x, high_x, low_y, high_y = min(x1, x2), max(x1, x2), min(y1, y2), max(y1, y2)
            for code, left, bottom, right, top in standing:
                if low_x < right - 0.01 and high_x > left + 0.01 and low_y < top - 0.01 and high_y > bottom + 0.01:
                    found.append((code, str(wire.route.net.ports[0])))
    return found


def pipes_on_pipes(scene):
    """Return pairs of nets that lie on each other for a length."""
    levels = {}
    for number, wire in enumerate(scene.wires):
        for start, end in wire.edges:
            axis = 0 if start[1] == end[1] else 1  # along which it runs
            span = sorted((start[axis], end[axis]))
            levels.setdefault((axis, round(start[1 - axis], 1)), []).append((number, *span))
    names = [str(wire.route.net.ports[0]) for wire in scene.wires]
    return [
        (names[one[0]], names[other[0]])
        for spans in levels.values()
        for one, other in combinations(spans, 2)
        if one[0] != other[0] and min(one[2], other[2]) - max(one[1], other[1]) > 0.1
    ]


def reached_from(wire, start):
    """Return the points that the lines of a net lead to from one of them."""
    found, waiting = {start}, [start]
    while waiting:
        here = waiting.pop()
        for one, other in wire.edges:
            for near, far in ((one, other), (other, one)):
                if near == here and far not in found:
                    found.add(far)
                    waiting.append(far)
    return found
