"""The limit bar: a scale with the tolerance zone, the guard bands, the value with its uncertainty and its margin.

Rows from the top: the value in words; the float over its place and the margin as a dimension line; the zone with
the uncertainty of the value across it; graduations; what the limits are. Sizes are multiples of the text size.
"""

from dataclasses import dataclass
from math import ceil, isfinite

from reportlab.graphics.shapes import Drawing

from fleet.drawing import (
    ACCENT,
    ACCENT_WASH,
    ALARM,
    EDGE,
    INK,
    SEMIBOLD,
    SHEET,
    SOFT,
    arrow_head,
    box,
    fit_text,
    float_marker,
    hatch,
    label,
    label_inside,
    nice_ticks,
    number,
    rule,
    text_width,
    tick_texts,
    with_uncertainty,
)
from fleet.drawing.numbers import uncertainty_decimals
from inspections.bench import Decision, Result, from_si, interval_from_si

from .scales import BarScale, bar_domain

YES_NO = "yes/no"
MOST_DECIMALS = 9
LIMIT_LINE = 1.25  # of the text size, where the limits are one below the other
ROWS = {"value": 1.5, "float": 2.0, "zone": 1.2, "ticks": 1.75, "limits": 1.45}
_OUTSIDE = (Decision.FAIL, Decision.CONDITIONAL_FAIL)


@dataclass(frozen=True, slots=True)
class _Bar:
    """What is drawn, in the display unit, and where: y of the zone's lower and upper edge."""

    drawing: Drawing
    scale: BarScale
    text: float
    bottom: float
    top: float
    value: float
    expanded: float
    unit: str
    lower: float | None
    upper: float | None
    colour: object
    is_stacked: bool

    @property
    def limits(self):
        return [limit for limit in (self.lower, self.upper) if limit is not None]

    def guard(self, limit):
        """Return the ends of the guard band inside a limit, held within the other limit."""
        inner = limit + self.expanded if limit == self.lower else limit - self.expanded
        others = [other for other in self.limits if other != limit] or [inner]
        inner = min(inner, others[0]) if limit == self.lower else max(inner, others[0])
        return sorted((limit, inner))


def value_text(result: Result) -> str:
    """Return the value with its expanded uncertainty and unit, "21.30 ± 0.42 psi", or "yes" or "no"."""
    if not result.is_measured:
        return "not measured"
    value, expanded = _shown(result)
    if result.unit == YES_NO:
        return "yes" if value >= 0.5 else "no"
    return f"{with_uncertainty(value, expanded)} {result.unit}"


def limit_texts(result: Result) -> list[str]:
    """Return the limits in words, the lower first: "at least 25 psi", "at most 30 psi"; a strict one "above 25 psi"."""
    if result.limit is None:
        return []
    words = ("above", "below") if result.limit.strict else ("at least", "at most")
    ends = (result.limit.lower_si, result.limit.upper_si)
    found = [(word, end) for word, end in zip(words, ends, strict=True) if end is not None]
    if result.unit == YES_NO:
        return [f"must be {_required(result)}"]
    return [f"{word} {_limit_figure(end, result)}" for word, end in found]


def _limit_figure(end, result: Result) -> str:
    """Return one end of a limit in the unit of the result, with its own unit beside it where that is another."""
    figure = f"{number(from_si(end, result.unit))} {result.unit}"
    own = result.limit.unit
    return figure if own == result.unit else f"{figure} ({number(from_si(end, own))} {own})"


def describe_result(result: Result) -> str:
    """Return the limit bar as one sentence, for those who do not see it."""
    parts = [f"{result.label}: {value_text(result)}"]
    limits = limit_texts(result)
    parts.append("limit " + " and ".join(limits) if limits else "no limit applies")
    if result.margin_si is not None and result.unit != YES_NO:
        margin = margin_figure(result)
        words = "inside the limit" if result.margin_si >= 0 else side_words(result)
        parts.append(f"{margin} {result.unit} {words}")
    if result.decision is not None:
        parts.append(f"{result.decision}: {result.reason}" if result.reason else str(result.decision))
    return "; ".join(parts) + "."


def margin_figure(result: Result) -> str:
    """Return the distance to the limit as a number, to the last place of its uncertainty."""
    expanded = interval_from_si(result.expanded_uncertainty_si, result.unit)
    decimals = min(MOST_DECIMALS, uncertainty_decimals(expanded)) if expanded > 0 else None
    return number(abs(interval_from_si(result.margin_si, result.unit)), decimals)


def side_words(result: Result) -> str:
    """Return where a value lies: "inside", "above the limit" or "below the limit"."""
    if result.margin_si >= 0:
        return "inside"
    lower = result.limit.lower_si
    return "below the limit" if lower is not None and result.value_si < lower else "above the limit"


def limit_bar(result: Result, width: float = 420, text: float = 13) -> Drawing:
    """Draw a result against its limits.

    width, text  in points (pixels on a page): the width of the drawing and the size of its text
    Raises ValueError for a value or an uncertainty that is not finite.
    """
    is_stacked = result.is_measured and not _fit_beside(limit_texts(result), width, text)
    drawing = Drawing(ceil(width), ceil(text * (sum(ROWS.values()) + is_stacked * LIMIT_LINE)))
    if not result.is_measured:
        return _not_measured(drawing, result, text)
    value, expanded = _shown(result)
    if result.unit == YES_NO:
        return _observation(drawing, result, value, text)
    bar = _laid_out(drawing, result, value, expanded, text, is_stacked=is_stacked)
    _draw_zone(bar)
    _draw_graduations(bar)
    _draw_value(bar, value_text(result))
    _draw_limits(bar, limit_texts(result))
    if result.margin_si is not None:
        _draw_margin(bar, result)
    return drawing


def _shown(result):
    """Return value and expanded uncertainty in the display unit."""
    value = from_si(result.value_si, result.unit)
    expanded = interval_from_si(result.expanded_uncertainty_si, result.unit)
    if not isfinite(value) or not isfinite(expanded) or expanded < 0:
        raise ValueError(f'Result "{result.label}" cannot be drawn: {value!r} ± {expanded!r} {result.unit}.')
    return value, expanded


def _not_measured(drawing, result, text):
    """Draw an empty scale that says so, with the limit in words."""
    bottom = text * (ROWS["limits"] + ROWS["ticks"])
    drawing.add(box(text, bottom, drawing.width - 2 * text, text * ROWS["zone"], SHEET))
    middle = drawing.width / 2
    drawing.add(label_inside(middle, drawing.height - text * 1.15, "not measured", text * 1.1, 0, drawing.width))
    for words in [" and ".join(limit_texts(result))] if result.limit else []:
        drawing.add(label_inside(middle, text * 0.35, words, text, 0, drawing.width))
    return drawing


def _fit_beside(texts, width, text):
    """Return whether the limits in words fit beside each other."""
    return len(texts) < 2 or all(text_width(words, text) <= _room_of_limit(texts, width, text) for words in texts)


def _room_of_limit(texts, width, text):
    return width / max(len(texts), 1) - text * 0.3


def _laid_out(drawing, result, value, expanded, text, *, is_stacked):
    ends = (result.limit.lower_si, result.limit.upper_si) if result.limit else (None, None)
    lower, upper = (None if end is None else from_si(end, result.unit) for end in ends)
    scale = BarScale(*bar_domain(value, expanded, lower, upper), text, drawing.width - text)
    bottom = text * (ROWS["limits"] + ROWS["ticks"] + is_stacked * LIMIT_LINE)
    colour = ALARM if result.decision in _OUTSIDE else ACCENT
    top = bottom + text * ROWS["zone"]
    return _Bar(drawing, scale, text, bottom, top, value, expanded, result.unit, lower, upper, colour, is_stacked)


def _draw_zone(bar):
    """Fill the tolerance zone, hatch its guard bands, and frame the whole scale."""
    left, right, height = bar.scale.left, bar.scale.right, bar.top - bar.bottom
    bar.drawing.add(box(left, bar.bottom, right - left, height, SHEET))
    if bar.limits:
        start = left if bar.lower is None else bar.scale.x(bar.lower)
        end = right if bar.upper is None else bar.scale.x(bar.upper)
        bar.drawing.add(box(start, bar.bottom, end - start, height, ACCENT_WASH))
        for limit in bar.limits if bar.expanded > 0 else ():
            near, far = (bar.scale.x(edge) for edge in bar.guard(limit))
            bar.drawing.add(hatch(near, bar.bottom, far, height, gap=bar.text * 0.34))
        bar.drawing.add(rule(start, bar.top, end, bar.top, width=bar.text * 0.14))
    bar.drawing.add(rule(left, bar.bottom, right, bar.bottom, width=1))


def _draw_graduations(bar):
    count = int((bar.scale.right - bar.scale.left) / (bar.text * 4.5))
    ticks = nice_ticks(bar.scale.low, bar.scale.high, max(2, count))
    texts = tick_texts(ticks)
    small = (ticks[1] - ticks[0]) / 5 if len(ticks) > 1 else None
    if small:
        first = ticks[0] - 5 * small
        for tick in (first + small * index for index in range(5 * (len(ticks) + 2))):
            if bar.scale.beyond(tick) == 0:
                x = bar.scale.x(tick)
                bar.drawing.add(rule(x, bar.bottom, x, bar.bottom - bar.text * 0.26, colour=EDGE, width=0.7))
    taken = 0.0
    for tick, words in zip(ticks, texts, strict=True):
        x = bar.scale.x(tick)
        bar.drawing.add(rule(x, bar.bottom, x, bar.bottom - bar.text * 0.45))
        half = text_width(words, bar.text * 0.9) / 2
        if x - half >= taken and x + half <= bar.drawing.width:
            bar.drawing.add(label(x, bar.bottom - bar.text * 1.4, words, bar.text * 0.9, anchor="middle", colour=SOFT))
            taken = x + half + bar.text * 0.3


def _draw_value(bar, words):
    """Set the value in words, the float over its place, and the interval of its uncertainty across the zone."""
    x, middle, text = bar.scale.x(bar.value), (bar.top + bar.bottom) / 2, bar.text
    beyond = bar.scale.beyond(bar.value)
    if beyond:
        bar.drawing.add(arrow_head(x + beyond * text * 0.6, middle, text * 0.9, beyond, colour=bar.colour))
        words += ", off this scale"
    low, high = (bar.scale.x(bar.value + sign * bar.expanded) for sign in (-1, 1))
    bar.drawing.add(rule(low, middle, high, middle, colour=bar.colour, width=text * 0.2))
    cap = text * 0.32
    for end in (low, high) if bar.expanded > 0 else ():
        bar.drawing.add(rule(end, middle - cap, end, middle + cap, colour=bar.colour, width=text * 0.12))
    bar.drawing.add(rule(x, bar.bottom, x, bar.top, colour=bar.colour, width=text * 0.12))
    bar.drawing.add(float_marker(x, bar.top, text * 1.25, colour=bar.colour))
    height = bar.drawing.height - text * 1.15
    bar.drawing.add(label_inside(x, height, words, text * 1.1, 0, bar.drawing.width, font=SEMIBOLD))


def _draw_limits(bar, texts):
    """Draw each limit as a heavy line through the zone, its words under the graduations."""
    width = bar.drawing.width
    room = width if bar.is_stacked else _room_of_limit(texts, width, bar.text)
    for index, (limit, words) in enumerate(zip(bar.limits, texts, strict=True)):
        x, foot = bar.scale.x(limit), bar.bottom - bar.text * 0.62
        bar.drawing.add(rule(x, foot, x, bar.top + bar.text * 0.9, width=bar.text * 0.17, colour=INK))
        low = 0 if index == 0 else width - room
        high = width if len(texts) == 1 or index else room
        y = bar.text * (0.35 + (LIMIT_LINE if bar.is_stacked and index == 0 else 0))
        bar.drawing.add(label_inside(x, y, fit_text(words, room, bar.text), bar.text, low, high))


def _draw_margin(bar, result):
    """Draw the margin as a dimension line from the nearest limit to the value, with its length where there is room."""
    nearest = min(bar.limits, key=lambda limit: abs(bar.value - limit))
    x1, x2 = sorted((bar.scale.x(nearest), bar.scale.x(bar.value)))
    y, gap = bar.top + bar.text * 0.55, bar.text * 0.55
    if x2 - x1 < 2 * gap or bar.scale.beyond(bar.value):
        return
    start = x1 if bar.scale.x(nearest) == x1 else x1 + gap
    end = x2 - gap if bar.scale.x(nearest) == x1 else x2
    bar.drawing.add(rule(start, y, end, y, width=0.8))
    for tip, direction in ((start, -1), (end, 1)):
        bar.drawing.add(arrow_head(tip, y, bar.text * 0.4, direction))
    figure, side = margin_figure(result), side_words(result)
    words = f"margin {figure} {bar.unit}" if side == "inside" else f"{figure} {bar.unit} {side.split()[0]}"
    for candidate in (words, f"{figure} {bar.unit}", figure):
        if text_width(candidate, bar.text * 0.9) < end - start - bar.text * 0.4:
            bar.drawing.add(label((start + end) / 2, y + bar.text * 0.3, candidate, bar.text * 0.9, anchor="middle"))
            return


def _required(result):
    return "yes" if result.limit.lower_si is not None and result.limit.lower_si >= 0.5 else "no"


def _observation(drawing, result, value, text):
    """Draw yes and no as the two stops of a switch, the float at the one seen, the required one underlined."""
    bottom, height = text * (ROWS["limits"] + ROWS["ticks"]), text * ROWS["zone"]
    places = {"no": drawing.width * 0.3, "yes": drawing.width * 0.7}
    colour = ALARM if result.decision in _OUTSIDE else ACCENT
    drawing.add(rule(text, bottom, drawing.width - text, bottom))
    required = _required(result) if result.limit else None
    for word, x in places.items():
        if word == required:
            drawing.add(box(x - text * 3, bottom, text * 6, height, ACCENT_WASH))
            drawing.add(rule(x - text * 3, bottom + height, x + text * 3, bottom + height, width=text * 0.14))
        drawing.add(rule(x, bottom, x, bottom - text * 0.45))
        drawing.add(label(x, bottom - text * 1.4, word, text, anchor="middle", colour=SOFT))
    seen = "yes" if value >= 0.5 else "no"
    drawing.add(float_marker(places[seen], bottom, text * 2.2, colour=colour))
    top = drawing.height - text * 1.15
    drawing.add(label_inside(places[seen], top, f"found: {seen}", text * 1.1, 0, drawing.width, font=SEMIBOLD))
    for words in limit_texts(result):
        drawing.add(label_inside(places[required], text * 0.35, words, text, 0, drawing.width))
    return drawing
