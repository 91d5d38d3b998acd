"""Sweep, decay, droop and mixture curves, from the declaration that a bench test hands back."""

from dataclasses import replace
from math import ceil

from reportlab.graphics.shapes import Drawing, PolyLine

from fleet.drawing import ACCENT, INK, SOFT, nice_ticks, number, point_marker, rule, tick_texts
from inspections.bench import Curve

from .curve_key import KeyEntry, draw_key, fits_beside, key_height
from .plot import (
    LINE_HEIGHT,
    Field,
    SideLabel,
    draw_band,
    draw_field,
    draw_sheet,
    draw_side_labels,
    draw_x_graduations,
    draw_x_marks,
    left_width,
    mark_look,
    padded_range,
    side_width,
    x_mark_rows,
)

_COLOURS = (ACCENT, INK, SOFT)
_DASHES = (None, [6, 2.5], [1.5, 2.5])


def describe_curve(curve: Curve) -> str:
    """Return the curve as one sentence: what is on the axes, how many points, what is marked."""
    lines = ", ".join(f"{series.label} ({len(series.points)} points)" for series in curve.series)
    units = {"x": curve.x_unit, "y": curve.y_unit}
    marks = "; ".join(f"{mark.label} at {number(mark.value)} {units[mark.axis]}" for mark in curve.marks)
    text = f"{curve.y_label} in {curve.y_unit} against {curve.x_label} in {curve.x_unit}: {lines or 'no points yet'}"
    return f"{text}. Marked: {marks}." if marks else f"{text}."


def curve(curve: Curve, width: float = 640, height: float = 320, text: float = 13) -> Drawing:
    """Draw a curve with its axes, series distinguished by marker and dash, and its marked values.

    width, height, text  in points (pixels on a page)
    Raises ValueError for a point or mark that is not finite.
    """
    entries = _entries(curve)
    field, has_key = _field(curve, entries, ceil(width), ceil(height), text)
    draw_sheet(field)
    for mark in curve.marks:
        draw_band(field, mark.axis, mark.value, mark.spread)
    draw_field(field, f"{curve.x_label}, {curve.x_unit}", f"{curve.y_label}, {curve.y_unit}")
    ticks = _x_ticks(field)
    draw_x_graduations(field, ticks, tick_texts(ticks), (ticks[1] - ticks[0]) / 5 if len(ticks) > 1 else None)
    for index, series in enumerate(curve.series):
        _draw_series(field, series, index)
    draw_x_marks(field, _x_marks(curve))
    side_labels = _drawn_side_labels(field, curve)
    if has_key:
        draw_key(field, entries)
    else:
        draw_side_labels(field, side_labels)
    return field.drawing


def _entries(curve):
    """Return what has to be named: the series that have points, and the values marked on the y axis."""
    named = [(index, series) for index, series in enumerate(curve.series) if series.points]
    entries = [_entry_of_series(index, series) for index, series in named]
    for mark in curve.marks:
        if mark.axis == "y":
            colour, width, dash, font = mark_look(mark.kind)
            entries.append(KeyEntry(mark.label, colour, font, width, dash))
    return entries


def _entry_of_series(index, series):
    has_line, has_points = series.style in ("line", "both"), series.style in ("points", "both")
    line, marker = 1.5 if has_line else 0.0, index if has_points else -1
    return KeyEntry(series.label, _COLOURS[index % 3], line=line, dash=_DASHES[index % 3], marker=marker)


def _field(curve, entries, width, height, text):
    """Return the field, and whether its labels are in a key below it, which makes the drawing higher."""
    xs = [x for series in curve.series for x, _ in series.points] + _mark_reach(curve, "x")
    ys = [y for series in curve.series for _, y in series.points] + _mark_reach(curve, "y")
    x_range, y_range = padded_range(xs, from_zero=True, share=0.03), padded_range(ys, from_zero=True)
    bottom, top = text * 3.1, height - text * 2.0
    right = width - max(side_width([entry.words for entry in entries], width, text), text)
    has_key = not fits_beside(entries, width - right - text, top - bottom, text)
    if has_key:
        below = key_height(entries, width, text)
        right, bottom, top, height = width - text, bottom + below, top + below, height + below
    left = min(left_width(y_range, top - bottom, text), width * 0.3)
    field = Field(Drawing(width, height), text, x_range, y_range, left, right, bottom, top)
    return replace(field, top=top - text * x_mark_rows(field, _x_marks(curve)) * LINE_HEIGHT), has_key


def _x_marks(curve):
    return [(mark.value, mark.label, mark.kind) for mark in curve.marks if mark.axis == "x"]


def _x_ticks(field):
    """Return the graduations of the x axis: as many as there is room for, but a scale has two at least."""
    count = max(2, int((field.right - field.left) / (field.text * 5)))
    ticks = nice_ticks(*field.x_range, count)
    return ticks if len(ticks) > 1 else nice_ticks(*field.x_range, count + 2)


def _mark_reach(curve, axis):
    reach = []
    for mark in curve.marks:
        if mark.axis == axis:
            spread = mark.spread or 0.0
            reach += [mark.value - spread, mark.value + spread]
    return reach


def _draw_series(field, series, index):
    places = [part for x, y in series.points for part in (field.x(x), field.y(y))]
    colour, dash = _COLOURS[index % 3], _DASHES[index % 3]
    if series.style in ("line", "both") and len(series.points) > 1:
        line = PolyLine(places, strokeColor=colour, strokeWidth=1.5, strokeDashArray=dash, fillColor=None)
        field.drawing.add(line)
    if series.style in ("points", "both"):
        for x, y in zip(places[::2], places[1::2], strict=True):
            field.drawing.add(point_marker(index, x, y, field.text * 0.55, colour=colour))


def _drawn_side_labels(field, curve):
    """Return the labels for the ends of the series and for the values marked on the y axis, whose lines it draws."""
    labels = []
    for index, series in enumerate(curve.series):
        if series.points:
            last = max(series.points)
            labels.append(SideLabel(field.y(last[1]), series.label, colour=_COLOURS[index % 3]))
    for mark in curve.marks:
        if mark.axis == "y":
            colour, width, dash, font = mark_look(mark.kind)
            y = field.y(mark.value)
            field.drawing.add(rule(field.left, y, field.right, y, colour=colour, width=width, dash=dash))
            labels.append(SideLabel(y, mark.label, font, colour))
    return labels
