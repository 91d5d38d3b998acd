"""Positions of columns, gutters, rows and channels on the sheet, in points, y upwards."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from fleet.circuit.drawing.placing import Grid
from fleet.circuit.drawing.tracks import Tracks

TAB = 46.0  # width of the lane names at the left
MARGIN = 6.0
PITCH = 11.0  # between tracks
GUTTER, CHANNEL = 12.0, 14.0  # width of one without tracks
LANE_GAP = 8.0  # around the line between two lanes
BODY_W, BODY_H = 46.0, 34.0  # of a symbol
HEAD = 4.0  # above a symbol
FOOT = 3.0  # between a symbol and its caption


@dataclass(frozen=True, slots=True)
class Sheet:
    """The measures of one drawing.

    cell      width of a column, which holds symbol and caption of a component
    columns   x of the middle of each column
    gutters   x of the left edge of each gutter, one more than columns
    rows      y of the middle of the symbols of each row
    channels  y of the top of each channel, one more than rows
    row_tops, row_feet  y where a row begins and where its captions end
    """

    width: float
    height: float
    cell: float
    columns: tuple[float, ...]
    gutters: tuple[float, ...]
    rows: tuple[float, ...]
    channels: tuple[float, ...]
    row_tops: tuple[float, ...]
    row_feet: tuple[float, ...]

    def track_x(self, gutter: int, track: int) -> float:
        return self.gutters[gutter] + GUTTER / 2 + track * PITCH

    def track_y(self, channel: int, track: int) -> float:
        return self.channels[channel] - CHANNEL / 2 - track * PITCH


def cell_width(grid: Grid, tracks: Tracks, width: float) -> float:
    """Return the column width on a sheet of this width; zero or less if nothing fits."""
    gutters = sum(_gutter(tracks, gutter) for gutter in range(grid.columns + 1))
    return (width - TAB - 2 * MARGIN - gutters) / max(grid.columns, 1)


def measured(grid: Grid, tracks: Tracks, width: float, words: Mapping[int, float], above: float, below: float) -> Sheet:
    """Return the sheet for this width.

    words         height of the tallest caption in each row, points
    above, below  room for a heading and for notes
    """
    cell = cell_width(grid, tracks, width)
    lefts = _ahead([_gutter(tracks, gutter) + cell for gutter in range(grid.columns)], TAB + MARGIN)
    first_rows = {strip.first for strip in grid.strips[1:]}
    depths, tops, channel_tops, y = [], [], [], above
    for row in range(grid.rows):
        y += LANE_GAP if row in first_rows else 0
        channel_tops.append(y)
        y += _channel(tracks, row)
        tops.append(y)
        depths.append(y + HEAD + BODY_H / 2)
        y += HEAD + BODY_H + FOOT + words.get(row, 0)
    channel_tops.append(y)
    height = y + _channel(tracks, grid.rows) + below
    return Sheet(
        width=width,
        height=height,
        cell=cell,
        columns=tuple(x + _gutter(tracks, gutter) + cell / 2 for gutter, x in enumerate(lefts[: grid.columns])),
        gutters=tuple(lefts),
        rows=_upwards(depths, height),
        channels=_upwards(channel_tops, height),
        row_tops=_upwards(tops, height),
        row_feet=_upwards(channel_tops[1:], height),
    )


def _gutter(tracks: Tracks, gutter: int) -> float:
    return GUTTER + max(tracks.gutter_counts.get(gutter, 0) - 1, 0) * PITCH


def _channel(tracks: Tracks, channel: int) -> float:
    count = tracks.channel_counts.get(channel, 0)
    return CHANNEL + (count - 1) * PITCH if count else CHANNEL / 2


def _ahead(steps: Sequence[float], start: float) -> list[float]:
    return list(accumulate(steps, initial=start))


def _upwards(depths: Sequence[float], height: float) -> tuple[float, ...]:
    return tuple(height - depth for depth in depths)
