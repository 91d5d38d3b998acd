"""Places every component on a grid: rows by lane, columns by longest path; the flow turns back at the patient."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import ceil

from fleet.circuit.drawing.columns import Ways, longest_chain, longest_paths, within
from fleet.circuit.drawing.lanes import BESIDE, BREATHING, LANES, MIXED, MIXES, SCAVENGING, lanes_of, strip_of
from fleet.circuit.drawing.nets import Net, nets_of, ways
from fleet.circuit.structure import Circuit

TAPS = (  # kinds that branch off a line and pass no gas on within the machine
    "gauge", "oxygen-alarm", "pipe-relief-valve", "relief-valve", "oxygen-analyser", "airway-pressure-monitor",
    "gas-monitor", "yoke-block",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Place:
    """The place of a component: row from the top, column from the left; a mirrored one has flow from right to left."""

    row: int
    column: int
    is_mirrored: bool


@dataclass(frozen=True, slots=True)
class Strip:
    """Adjacent rows, `first` to `last` inclusive, and the lanes of the components in them."""

    lanes: tuple[str, ...]
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Grid:
    """All places by component code, the strips from top to bottom, and the nets."""

    places: Mapping[str, Place]
    strips: tuple[Strip, ...]
    nets: tuple[Net, ...]

    @property
    def rows(self) -> int:
        return self.strips[-1].last + 1 if self.strips else 0

    @property
    def columns(self) -> int:
        return max((place.column for place in self.places.values()), default=-1) + 1


def placed(circuit: Circuit, most_columns: int) -> Grid:
    """Return the grid of a circuit, folded if it needs more than `most_columns` >= 2 columns."""
    nets = nets_of(circuit.connections)
    kinds = {component.code: component.kind for component in circuit.components}
    lanes, onward = lanes_of(circuit), ways(circuit, nets)
    returning = _returning(circuit, lanes, onward)
    columns = _columns(lanes, onward, returning)
    bands = _folded(lanes, columns, most_columns)
    leftward = returning | {code for code, lane in lanes.items() if lane == SCAVENGING and returning}
    places, strips, row = {}, [], 0
    for band, lane in sorted({(bands[code][0], strip_of(lane)) for code, lane in lanes.items()}, key=_strip_order):
        members = [code for code in lanes if strip_of(lanes[code]) == lane and bands[code][0] == band]
        within_band = {code: bands[code][1] for code in members}
        stood = _stood(members, kinds, within(onward, members), within_band, leftward)
        places |= {code: replace(place, row=row + place.row) for code, place in stood.items()}
        held = tuple(sorted({lanes[code] for code in members}, key=LANES.index))
        strips.append(Strip(held, row, row + max(place.row for place in stood.values())))
        row = strips[-1].last + 1
    return Grid(places, tuple(strips), nets)


def _strip_order(key):
    (group, band), lane = key
    return group, band, LANES.index(lane)


def _returning(circuit: Circuit, lanes: Mapping[str, str], onward: Ways) -> frozenset[str]:
    """Return the components of the breathing system downstream of the patient only."""
    patients = {component.code for component in circuit.of_kind("patient-connection")}
    if not patients:
        return frozenset()
    breathing = {code for code, lane in lanes.items() if lane == BREATHING}
    inner = within(onward, breathing - patients)
    fed = {other for code in lanes if lanes[code] == MIXED for other in onward[code] if other in inner}
    return frozenset(breathing - patients - _reached(fed, inner))


def _reached(starts: set[str], onward: Ways) -> set[str]:
    found, waiting = set(starts), sorted(starts)
    while waiting:
        new = set(onward[waiting.pop()]) - found
        found |= new
        waiting += sorted(new)
    return found


def _columns(lanes: Mapping[str, str], onward: Ways, returning: frozenset[str]) -> dict[str, int]:
    """Return columns; those of the breathing system may be negative until they are folded."""
    supply = [code for code, lane in lanes.items() if lane not in (*MIXES, BESIDE)]
    forward = [code for code, lane in lanes.items() if lane in (MIXED, BREATHING) and code not in returning]
    found = longest_paths(within(onward, supply)) | longest_paths(within(onward, forward))
    found |= _columns_back(returning, onward, found)
    found |= _columns_away(lanes, onward, found, bool(returning))
    beside = sorted(code for code, lane in lanes.items() if lane == BESIDE)
    return found | {code: index for index, code in enumerate(beside)}


def _columns_back(returning: frozenset[str], onward: Ways, forward: Mapping[str, int]) -> dict[str, int]:
    """Return columns that fall from the patient's by one for each component on the longest path from there."""
    before = {code: [other for other in forward if code in onward[other]] for code in returning}
    starts = [forward[other] for others in before.values() for other in others]
    turn = max(starts, default=max(forward.values(), default=0))
    return {code: turn - 1 - depth for code, depth in longest_paths(within(onward, returning)).items()}


def _columns_away(lanes, onward: Ways, placed_already: Mapping[str, int], is_back: bool) -> dict[str, int]:
    """Return columns for scavenging: further left after the expiratory limb, else further right."""
    depths = longest_paths(within(onward, [code for code, lane in lanes.items() if lane == SCAVENGING]))
    before = [column for code, column in placed_already.items() if set(onward[code]) & depths.keys()]
    if is_back:
        return {code: min(before, default=0) - 1 - depth for code, depth in depths.items()}
    return {code: max(before, default=-1) + 1 + depth for code, depth in depths.items()}


def _folded(lanes, columns, most: int) -> dict[str, tuple[tuple[int, int], int]]:
    """Return ((group, band), column from 0) of each component: supplies are group 0, mixed gas 1, the rest 2."""
    groups: dict[int, list[str]] = {}
    for code, lane in lanes.items():
        group = 2 if lane == BESIDE else 1 if lane in MIXES else 0
        groups.setdefault(group, []).append(code)
    found = {code: ((2, 0), columns[code] % most) for code in groups.pop(2, ())}
    for group, codes in groups.items():
        for band, members in enumerate(_bands(codes, lanes, columns, most)):
            first = min(columns[code] for code in members)
            found |= {code: ((group, band), columns[code] - first) for code in members}
    return found


def _bands(codes, lanes, columns, most: int) -> list[list[str]]:
    """Split a group that is too wide: at the outlet if that is enough, else into bands of equal width."""
    if _width(codes, columns) <= most:
        return [codes]
    mixed = [code for code in codes if lanes[code] == MIXED]
    rest = [code for code in codes if lanes[code] != MIXED]
    if mixed and rest:
        return _bands(mixed, lanes, columns, most) + _bands(rest, lanes, columns, most)
    first, width = min(columns[code] for code in codes), _width(codes, columns)
    step = ceil(width / ceil(width / most))
    bands = [[code for code in codes if (columns[code] - first) // step == band] for band in range(ceil(width / step))]
    return [band for band in bands if band]


def _width(codes, columns) -> int:
    return max(columns[code] for code in codes) - min(columns[code] for code in codes) + 1


def _stood(members, kinds: Mapping[str, str], onward: Ways, columns, returning) -> dict[str, Place]:
    """Return the place of each component of a strip, rows from 0.

    The longest chain is on top, each next one in the first free row. Components that branch off a line are placed where
    there is room, on either side of it. Components of the expiratory limb are below the rest.
    """
    places: dict[str, Place] = {}
    for block in ([c for c in members if c not in returning], [c for c in members if c in returning]):
        floor, taken = max((place.row for place in places.values()), default=-1) + 1, set()
        along = {code: -columns[code] if code in returning else columns[code] for code in block}
        left = {code for code in block if kinds[code] not in TAPS}
        while left:
            chain = longest_chain(within(onward, left), along)
            row, span = floor, {columns[code] for code in chain}
            while _cells(row, span) & taken:
                row += 1
            taken |= _cells(row, span | _run(chain, onward, columns))
            places |= {code: Place(row, columns[code], code in returning) for code in chain}
            left -= set(chain)
        for code in sorted(code for code in block if kinds[code] in TAPS):
            places[code] = _hung(columns[code], code in returning, floor, taken)
            taken.add((places[code].row, places[code].column))
    return places


def _run(chain: tuple[str, ...], onward: Ways, columns: Mapping[str, int]) -> set[int]:
    """Return the columns between a chain and its neighbours up- and downstream, which its line would cross."""
    behind = [columns[other] for other in onward[chain[-1]]]
    before = [columns[code] for code, others in onward.items() if chain[0] in others]
    ends = [columns[chain[0]], columns[chain[-1]]]
    low, high = min(ends), max(ends)
    reached = [column for column in behind + before if column < low or column > high]
    return {*ends, *(column + 1 if column < low else column - 1 for column in reached)}


def _cells(row: int, columns: set[int]) -> set[tuple[int, int]]:
    return {(row, column) for column in range(min(columns), max(columns) + 1)}


def _hung(column: int, is_mirrored: bool, floor: int, taken: set[tuple[int, int]]) -> Place:
    """Return the highest free place on either side of the line that a component branches off."""
    other = column + (1 if is_mirrored else -1)
    row = floor
    while True:
        if (row, column) not in taken:
            return Place(row, column, is_mirrored)
        if other >= 0 and (row, other) not in taken:
            return Place(row, other, not is_mirrored)
        row += 1
