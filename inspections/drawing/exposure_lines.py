"""Exposure by hazard over time: a small field for each hazard, the past as one line, each decision ahead as another."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from reportlab.graphics.shapes import Drawing, PolyLine

from fleet.drawing import (
    ACCENT,
    ALARM,
    EDGE,
    INK,
    LINE,
    SEMIBOLD,
    SHEET,
    SOFT,
    box,
    fit_text,
    label,
    nice_ticks,
    point_marker,
    rule,
    text_width,
    tick_texts,
)
from fleet.place_format import counted

COLUMNS_FROM = 700.0  # points of width from which on two fields stand beside each other
HEIGHT, GAP = 12.0, 2.2  # of one field and between two, in sizes of the text
# (colour, dash, marker) of each decision: they differ in more than colour.
LOOKS = ((INK, [2, 3], 4), (ACCENT, None, 2), (ALARM, [7, 3], 1), (INK, None, 0))


@dataclass(frozen=True, slots=True)
class HazardCourse:
    """One hazard: a value for each day past, and by decision for each day ahead."""

    name: str
    past: tuple[float, ...]
    ahead: Mapping[str, tuple[float, ...]] = field(default_factory=dict)


def exposure_panels(
    courses: Sequence[HazardCourse],
    past_days: Sequence[date],
    ahead_days: Sequence[date],
    *,
    width: float = 1180,
    text: float = 12,
) -> Drawing:
    """Draw a field for each hazard with one scale of time; each field has a scale of its own from zero.

    The upright line is the last day of the past. Decisions are told apart by dash, marker and the key below.
    """
    beside = 2 if width >= COLUMNS_FROM else 1
    lines = -(-max(1, len(courses)) // beside)
    high, foot = text * HEIGHT, text * 2.2
    drawing = Drawing(width, lines * (high + text * GAP) + foot)
    drawing.add(box(0, 0, width, drawing.height, SHEET))
    each = width / beside
    for place, course in enumerate(courses):
        x, y = place % beside * each, drawing.height - (place // beside + 1) * (high + text * GAP)
        _draw_field(drawing, course, past_days, ahead_days, (x, y + text * 1.4, each, high - text * 0.6), text)
    _draw_key(drawing, list(courses[0].ahead) if courses else [], text)
    return drawing


def _draw_field(drawing, course, past_days, ahead_days, frame, text):
    x, bottom, each, high = frame
    left, right, top = x + text * 3.6, x + each - text * 1.2, bottom + high - text * 1.8
    days = [*past_days, *ahead_days]
    highest = max([*course.past, *(value for line in course.ahead.values() for value in line), 0]) or 1.0
    across = _Scale(days[0].toordinal(), max(days[-1].toordinal(), days[0].toordinal() + 1), left, right)
    up = _Scale(0.0, highest * 1.05, bottom, top)
    words = fit_text(course.name, each - text * 2, text, SEMIBOLD)
    drawing.add(label(left, top + text * 0.7, words, text, font=SEMIBOLD))
    ticks = nice_ticks(0, highest, 3)
    for tick, words in zip(ticks, tick_texts(ticks), strict=True):
        drawing.add(rule(left, up.at(tick), right, up.at(tick), colour=LINE, width=0.6))
        drawing.add(label(left - text * 0.4, up.at(tick) - text * 0.3, words, text * 0.85, anchor="end", colour=SOFT))
    _draw_years(drawing, days, across, bottom, text)
    _draw_lines(drawing, course, past_days, ahead_days, across, up, text)
    drawing.add(rule(left, bottom, right, bottom, colour=EDGE, width=0.9))


def _draw_lines(drawing, course, past_days, ahead_days, across, up, text):
    today = past_days[-1].toordinal()
    drawing.add(rule(across.at(today), up.start, across.at(today), up.stop, colour=EDGE, width=0.9))
    _line(drawing, _points(past_days, course.past, across, up), INK, None, 1.5)
    for number, line in enumerate(course.ahead.values()):
        colour, dash, kind = LOOKS[number % len(LOOKS)]
        points = [(across.at(today), up.at(course.past[-1]))]
        points += _points(ahead_days, line, across, up)
        _line(drawing, points, colour, dash, 1.2)
        for point in points[4::4]:
            drawing.add(point_marker(kind, *point, text * 0.5, colour=colour))


def _points(days, values, across, up):
    return [(across.at(day.toordinal()), up.at(value)) for day, value in zip(days, values, strict=True)]


def _line(drawing, points, colour, dash, width):
    if len(points) > 1:
        places = [part for point in points for part in point]
        drawing.add(PolyLine(places, strokeColor=colour, strokeWidth=width, strokeDashArray=dash, fillColor=None))


def _draw_years(drawing, days, across, bottom, text):
    years = range(days[0].year + 1, days[-1].year + 1)
    every = max(1, -(-len(years) * int(text * 3.2) // max(1, int(across.stop - across.start))))
    for year in years[::every]:
        x = across.at(date(year, 1, 1).toordinal())
        drawing.add(rule(x, bottom, x, bottom - text * 0.3))
        if x < across.stop - text * 1.2:
            drawing.add(label(x, bottom - text * 1.2, str(year), text * 0.85, anchor="middle", colour=SOFT))


def _draw_key(drawing, decisions, text):
    x = text * 3.6
    for number, words in enumerate(["until today", *decisions]):
        colour, dash, kind = (INK, None, None) if number == 0 else LOOKS[(number - 1) % len(LOOKS)]
        drawing.add(rule(x, text * 0.8, x + text * 2, text * 0.8, colour=colour, width=1.5, dash=dash))
        if kind is not None:
            drawing.add(point_marker(kind, x + text, text * 0.8, text * 0.5, colour=colour))
        drawing.add(label(x + text * 2.4, text * 0.5, words, text * 0.85))
        x += text * 4 + text_width(words, text * 0.85)


@dataclass(frozen=True, slots=True)
class _Scale:
    low: float
    high: float
    start: float
    stop: float

    def at(self, value):
        return self.start + (value - self.low) / (self.high - self.low) * (self.stop - self.start)


def describe_exposure(courses: Sequence[HazardCourse]) -> str:
    """Return the picture in words: for each hazard the value today and at the end of each decision."""
    sentences = []
    for course in courses:
        words = [f"{decision} {counted(round(line[-1]))}" for decision, line in course.ahead.items() if line]
        ahead = f"; at the end ahead: {', '.join(words)}" if words else ""
        sentences.append(f"{course.name}: {counted(round(course.past[-1]))} today{ahead}.")
    return " ".join(sentences) or "No hazard is left open."
