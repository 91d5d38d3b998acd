"""Assigns a track to every net in every gutter and channel that it uses, so that no two overlap."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.circuit.drawing.ports import LEFT, TOP
from fleet.circuit.drawing.routing import Route


@dataclass(frozen=True, slots=True)
class Tracks:
    """Track numbers by (net number, gutter) and by (net number, channel), and how many each of these has."""

    in_gutters: Mapping[tuple[int, int], int]
    in_channels: Mapping[tuple[int, int], int]
    gutter_counts: Mapping[int, int]
    channel_counts: Mapping[int, int]


def tracked(routes: Sequence[Route]) -> Tracks:
    """Return the tracks of all routes; verticals that turn left are at the left, levels that turn up at the top."""
    rises, levels = {}, {}
    for number, route in enumerate(routes):
        for gutter, (low, high) in route.rises.items():
            rises.setdefault(gutter, []).append((_leaning(route, gutter), low, high, number))
        for channel, (left, right) in route.levels.items():
            levels.setdefault(channel, []).append((_hanging(route, channel), left, right, number))
    in_gutters, gutter_counts = _packed(rises)
    in_channels, channel_counts = _packed(levels)
    return Tracks(in_gutters, in_channels, gutter_counts, channel_counts)


def _leaning(route: Route, gutter: int) -> float:
    """Return where a net goes from a gutter: below 0 to the left of it, above 0 to the right."""
    here = [
        -1 if t.gutter == gutter and t.side != LEFT else 1
        for t in route.terminals
        if t.side != TOP and t.gutter == gutter
    ]
    away = [max(-2, min(2, t.gutter - gutter)) for t in route.terminals if t.side != TOP and t.gutter != gutter]
    return sum(here + away) / max(len(here + away), 1)


def _hanging(route: Route, channel: int) -> float:
    """Return where a net goes from a channel: below 0 up, above 0 down."""
    ordinals = [2 * t.row + 1 - 2 * channel for t in route.terminals]
    return sum(ordinals) / len(ordinals)


def _packed(wanted: Mapping[int, list[tuple[float, int, int, int]]]):
    places, counts = {}, {}
    for lane, spans in wanted.items():
        taken: list[list[tuple[int, int]]] = []
        for _, low, high, number in sorted(spans):
            track = next((i for i, used in enumerate(taken) if all(high < a or low > b for a, b in used)), len(taken))
            if track == len(taken):
                taken.append([])
            taken[track].append((low, high))
            places[number, lane] = track
        counts[lane] = len(taken)
    return places, counts
