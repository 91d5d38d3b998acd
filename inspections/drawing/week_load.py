"""Weeks by technicians: a bar for each week against the hours of that week; and counts by week before and after."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from reportlab.graphics.shapes import Drawing

from fleet.days import day_of_year
from fleet.drawing import (
    ACCENT,
    ACCENT_WASH,
    ALARM,
    EDGE,
    INK,
    LINE,
    SEMIBOLD,
    SHEET,
    SOFT,
    box,
    fit_text,
    hatch,
    label,
    rule,
    text_width,
)

ROW, GAP, HEAD = 54.0, 16.0, 34.0


@dataclass(frozen=True, slots=True)
class WeekBar:
    """One week: hours there are, hours booked, hours proposed."""

    monday: date
    hours: float
    booked: float
    proposed: float

    @property
    def load(self) -> float:
        return self.booked + self.proposed


@dataclass(frozen=True, slots=True)
class LoadRow:
    """One technician with a bar for each week; all rows have the same weeks."""

    name: str
    weeks: tuple[WeekBar, ...]


def week_load(rows: Sequence[LoadRow], *, width: float = 1180, text: float = 12) -> Drawing:
    """Draw a row of bars for each technician: the outline is the hours of the week, booked filled, proposed hatched.

    What exceeds the hours is drawn in the colour of alarms and marked with “+”, so that it does not depend on colour.
    """
    rows = list(rows)
    height = HEAD + max(1, len(rows)) * (ROW + GAP)
    drawing = Drawing(width, height)
    drawing.add(box(0, 0, width, height, SHEET))
    left, right = width * 0.16, width - text
    highest = max((max(week.hours, week.load) for row in rows for week in row.weeks), default=0) or 1.0
    for number, row in enumerate(rows):
        bottom = height - HEAD - (number + 1) * (ROW + GAP) + GAP
        _draw_row(drawing, row, left, right, bottom, highest, text)
    if rows:
        _draw_months(drawing, rows[0].weeks, left, right, height, text)
    _draw_key(drawing, left, text)
    return drawing


def _draw_row(drawing, row, left, right, bottom, highest, text):
    drawing.add(label(text / 2, bottom + ROW / 2, fit_text(row.name, left - text, text, SEMIBOLD), text, font=SEMIBOLD))
    drawing.add(rule(left, bottom, right, bottom, colour=EDGE, width=0.8))
    step = (right - left) / max(1, len(row.weeks))
    for number, week in enumerate(row.weeks):
        _draw_week(drawing, week, left + number * step, step, bottom, ROW / highest, text)


def _draw_week(drawing, week, x, step, bottom, scale, text):
    bar, hours = step * 0.78, week.hours * scale
    if hours:
        drawing.add(box(x, bottom, bar, hours, ACCENT_WASH, stroke=LINE, stroke_width=0.6))
    booked = min(week.booked, week.hours) * scale
    drawing.add(box(x, bottom, bar, booked, ACCENT))
    proposed = max(0.0, min(week.load, week.hours) * scale - booked)
    if proposed > 0:
        drawing.add(hatch(x, bottom + booked, x + bar, proposed, gap=3.0, colour=ACCENT))
    over = max(0.0, week.load - week.hours) * scale
    if over > 1e-9:
        drawing.add(box(x, bottom + hours, bar, over, ALARM))
        drawing.add(label(x + bar / 2, bottom + hours + over + 1, "+", text * 0.8, anchor="middle", colour=ALARM))


def _draw_months(drawing, weeks, left, right, height, text):
    """Write each month above its first week, and leave one out where the words before it reach that far."""
    step, last, year, free = (right - left) / max(1, len(weeks)), None, None, left
    for number, week in enumerate(weeks):
        month, x = (week.monday.year, week.monday.month), left + number * step
        if month == last:
            continue
        last, words = month, f"{week.monday:%b}" if year == week.monday.year else f"{week.monday:%b %Y}"
        if x >= free:
            drawing.add(label(x, height - text * 1.3, words, text * 0.9, colour=SOFT))
            year, free = week.monday.year, x + text_width(words, text * 0.9) + text


def _draw_key(drawing, left, text):
    """Say what the bars mean at the bottom, in words beside a sample of each."""
    x, y = left, 3.0
    for words, fill in (("hours", ACCENT_WASH), ("booked", ACCENT), ("proposed", None), ("+ beyond the hours", ALARM)):
        drawing.add(box(x, y, 10, 8, fill or SHEET, stroke=LINE, stroke_width=0.6))
        if fill is None:
            drawing.add(hatch(x, y, x + 10, 8, gap=3.0, colour=ACCENT))
        drawing.add(label(x + 14, y, words, text * 0.85, colour=INK))
        x += 34 + len(words) * text * 0.48


def describe_week_load(rows: Sequence[LoadRow]) -> str:
    """Return the picture in words: for each technician the load of the year and the fullest week."""
    sentences = []
    for row in rows:
        hours, load = sum(week.hours for week in row.weeks), sum(week.load for week in row.weeks)
        fullest = max(row.weeks, key=lambda week: (week.load, -week.monday.toordinal()), default=None)
        words = f"{row.name}: {load:.0f} of {hours:.0f} hours"
        if fullest and fullest.load:
            most = f"{fullest.load:.1f} of {fullest.hours:.1f}"
            words += f", most in the week of {fullest.monday.isoformat()} with {most}"
        sentences.append(f"{words}.")
    return " ".join(sentences) or "No technician has working hours."


def weeks_before_and_after(before, after, *, width: float = 1180, height: float = 220, text: float = 12) -> Drawing:
    """Draw (Monday, number) before, as outlines, and after, filled, side by side for each week."""
    drawing = Drawing(width, height)
    drawing.add(box(0, 0, width, height, SHEET))
    left, right, bottom, top = text * 3, width - text, text * 2.2, height - text * 2
    highest = max((number for _, number in [*before, *after]), default=0) or 1
    step, scale = (right - left) / max(1, len(after)), (top - bottom) / highest
    for place, ((_, was), (_, now)) in enumerate(zip(before, after, strict=True)):
        x = left + place * step
        if was:
            drawing.add(box(x, bottom, step * 0.4, was * scale, SHEET, stroke=ALARM, stroke_width=1.0))
            drawing.add(label(x + step * 0.2, bottom + was * scale + 2, str(was), text * 0.8, anchor="middle"))
        if now:
            drawing.add(box(x + step * 0.42, bottom, step * 0.4, now * scale, ACCENT))
    drawing.add(rule(left, bottom, right, bottom, colour=EDGE, width=0.8))
    drawing.add(label(text / 2, top, str(highest), text * 0.9, colour=SOFT))
    _draw_week_starts(drawing, after, left, step, text)
    return drawing


def _draw_week_starts(drawing, weeks, left, step, text):
    every = max(1, round(text * 5 / step))
    for place in range(0, len(weeks), every):
        monday = weeks[place][0]
        drawing.add(label(left + place * step, text * 0.7, day_of_year(monday), text * 0.85, colour=SOFT))
