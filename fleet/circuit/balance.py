"""The flow balance of every junction as a function of the pressures: of many networks at once, as arrays.

Each network of a batch is a row: its free junctions come first, then those with given pressures; shorter rows are
padded. Its branches stand together with those of the other networks that have a law of the same form.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

from fleet.circuit.elements.base import DISPOSAL, ROOM, STORE
from fleet.circuit.elimination import Elimination
from fleet.circuit.flow import Law
from fleet.circuit.junctions import MOST_PILOTS, Net
from fleet.circuit.laws.numbers import Gas
from fleet.circuit.stacking import LawBook
from fleet.late import np

LEAST_SHARE, HEADROOM_PA = 0.02, 100e3  # below the lowest given pressure, and above the highest
RIDGE = 1e-24  # m3/s per Pa, keeps the matrix regular if every law is flat
FEW = 12  # branches of one form; fewer are faster one by one
MANY = 24  # systems from which they are solved together, junction by junction


@dataclass(frozen=True)
class Slopes:
    """Flows and slopes at given pressures, by branch; `gain` is the ratio of outflow to inflow of a branch."""

    values: np.ndarray
    by_a: np.ndarray
    by_b: np.ndarray
    by_pilots: np.ndarray
    gain: np.ndarray

    def of(self, branches: np.ndarray, pilots: np.ndarray) -> Slopes:
        """Return those of some branches."""
        return Slopes(
            self.values[branches], self.by_a[branches], self.by_b[branches], self.by_pilots[pilots], self.gain[branches]
        )

    def copy(self) -> Slopes:
        return Slopes(*(column.copy() for column in (self.values, self.by_a, self.by_b, self.by_pilots, self.gain)))

    def put(self, branches: np.ndarray, pilots: np.ndarray, other: Slopes) -> None:
        """Replace those of some branches."""
        self.values[branches], self.by_a[branches], self.by_b[branches] = other.values, other.by_a, other.by_b
        self.by_pilots[pilots], self.gain[branches] = other.by_pilots, other.gain


@dataclass(frozen=True)
class Rows:
    """The branches of a batch, row by row, in order of `code`.

    net, place     the network, and the number of the branch in it
    start, end     junctions of a and b, as columns of the row of their network
    law            number in the book; `form` its form, `row` its row in that form; `code` form and number of pilots
    pilots         shape (branches, pilots), columns; -1 for none
    more           outflow at b divided by inflow at a, minus 1
    is_few         few branches of the batch have a law of this form, or it has none: it is computed by itself
    """

    net: np.ndarray
    place: np.ndarray
    start: np.ndarray
    end: np.ndarray
    law: np.ndarray
    form: np.ndarray
    row: np.ndarray
    code: np.ndarray
    pilots: np.ndarray
    more: np.ndarray
    is_few: np.ndarray

    def of(self, chosen: np.ndarray) -> Rows:
        return Rows(*(getattr(self, field.name)[chosen] for field in fields(self)))

    def arranged(self, book: LawBook, branches: np.ndarray) -> tuple[Rows, np.ndarray]:
        """Return some branches by form and number of pilots, last those to be computed one by one; and which."""
        code = self.code[branches]
        is_few = (np.bincount(code) <= FEW)[code] | book.stands_alone(self.form[branches])
        order = np.lexsort((code, is_few))
        return replace(self.of(branches[order]), is_few=is_few[order]), branches[order]


@dataclass(frozen=True)
class Group:
    """Branches with laws of one form, as one law with arrays."""

    at: slice
    law: Law
    pilots: tuple[np.ndarray, ...]


class Balance:
    """The flow balance of every junction of some networks, for given mixtures.

    given    shape (networks, columns - free), Pa absolute; `free` the number of columns for free junctions
    steered  for each pilot its branch; `steering` its junction, `pilot_place` the pilots of each branch
    """

    def __init__(self, book: LawBook, rows: Rows, given: np.ndarray, counts: np.ndarray, places: Places):
        self.book, self.rows, self.given, self.counts, self.places = book, rows, given, counts, places
        free = self.free = places.free
        self.count, self.width = len(counts), free + given.shape[1]
        self.base = rows.net * self.width
        self.a, self.b = self.base + rows.start, self.base + rows.end
        self._find_groups()
        self._find_pilots()
        self._place_entries()
        self._gases: tuple[Gas, list[tuple[Gas, Gas]], list[tuple[Gas, Gas]]] | None = None

    def _find_groups(self):
        """Find the branches with laws of one form; those from `few_from` on are computed one by one."""
        rows, pilots = self.rows, self.rows.code % (MOST_PILOTS + 1)
        code = np.where(rows.is_few, -1, rows.code)
        edges = [0, *(np.flatnonzero(np.diff(code)) + 1).tolist(), len(code)] if len(code) else [0]
        self.groups, self.few_from = [], int(np.count_nonzero(~rows.is_few))
        for start, stop in zip(edges[:-1], edges[1:], strict=True):
            if start < self.few_from:
                at = slice(start, stop)
                law = self.book.stacked(int(rows.form[start]), rows.row[at])
                columns = tuple(self.base[at] + rows.pilots[at, j] for j in range(pilots[start]))
                self.groups.append(Group(at, law, columns))
        few = slice(self.few_from, None)
        self.few = [
            (law.flow, i, j, tuple(base + n for n in steering if n >= 0))
            for law, i, j, base, steering in zip(
                self.book.at(rows.law[few].tolist()),
                self.a[few].tolist(),
                self.b[few].tolist(),
                self.base[few].tolist(),
                rows.pilots[few].tolist(),
                strict=True,
            )
        ]

    def _find_pilots(self):
        """Number the pilots: group by group, in each of them first by pilot; then those of the few, by branch."""
        rows, few_from = self.rows, self.few_from
        branch, nth = np.nonzero(rows.pilots >= 0)
        is_few = branch >= few_from
        group = np.where(is_few, len(self.groups), np.searchsorted([g.at.stop for g in self.groups], branch, "right"))
        order = np.lexsort((np.where(is_few, nth, branch), np.where(is_few, branch, nth), group))
        self.steered, self.nth = branch[order], nth[order]
        self.steering = self.base[self.steered] + self.rows.pilots[self.steered, self.nth]
        self.pilot_place = np.full(self.rows.pilots.shape, -1)
        self.pilot_place[self.steered, self.nth] = np.arange(len(order))

    def _place_entries(self):
        """Find the place of each slope in the matrices: only free junctions have rows and columns there."""
        rows, free = self.rows, self.free
        base, start, end = rows.net, rows.start, rows.end
        owner = self.steered
        steering = self.steering - rows.net[owner] * self.width
        row = np.concatenate((start, start, end, end, start[owner], end[owner]))
        column = np.concatenate((start, end, start, end, steering, steering))
        net = np.concatenate((base, base, base, base, base[owner], base[owner]))
        self.kept = np.flatnonzero((row < free) & (column < free))
        self.entry_net, self.row, self.column = net[self.kept], row[self.kept], column[self.kept]

    @cached_property
    def dense_places(self) -> np.ndarray:
        """The place of each slope in the matrix of its network."""
        return self.row * self.free + self.column

    @cached_property
    def sparse_places(self) -> np.ndarray:
        """The place of each slope in the elimination: that of a junction on the diagonal, else after all of those."""
        places = self.places
        row, column = (places.junctions[self.entry_net, each] for each in (self.row, self.column))
        return np.where(row == column, row, places.elimination.size + places.elimination.table[row, column])

    def of(self, nets: np.ndarray) -> tuple[Balance, np.ndarray, np.ndarray]:
        """Return the balance of some networks, by index, with the numbers of its branches and pilots here."""
        if len(nets) == self.count:
            return self, np.arange(len(self.a)), np.arange(len(self.steered))
        number = np.full(self.count, -1)
        number[nets] = np.arange(len(nets))
        rows, branches = self.rows.arranged(self.book, np.flatnonzero(number[self.rows.net] >= 0))
        rows = replace(rows, net=number[rows.net])
        some = Balance(self.book, rows, self.given[nets], self.counts[nets], self.places.of(nets))
        return some, branches, self.pilot_place[branches[some.steered], some.nth]

    def range(self) -> tuple[np.ndarray, np.ndarray]:
        """Return the pressure range of the search, by network: wider than any machine can reach."""
        return LEAST_SHARE * self.lowest_given(), HEADROOM_PA + self.given.max(axis=1)

    def lowest_given(self) -> np.ndarray:
        return self.given.min(axis=1)

    def gases(self, mixes: Gas) -> tuple[list[tuple[Gas, Gas]], list[tuple[Gas, Gas]]]:
        """Return the gas at a and at b from that of each junction: by group of branches, and of the few by branch."""
        if self._gases is None or self._gases[0] is not mixes:
            mass, ratio = mixes.molar_mass.ravel(), mixes.heat_ratio.ravel()
            ends = Gas(mass[self.a], ratio[self.a]), Gas(mass[self.b], ratio[self.b])
            columns = [column[self.few_from :].tolist() for gas in ends for column in gas]
            few = [(Gas(*row[:2]), Gas(*row[2:])) for row in zip(*columns, strict=True)]
            by_group = [
                tuple(Gas(gas.molar_mass[group.at], gas.heat_ratio[group.at]) for gas in ends) for group in self.groups
            ]
            self._gases = (mixes, by_group, few)
        return self._gases[1:]

    def slopes(self, pressures: np.ndarray, mixes: Gas) -> Slopes:
        """Return flows and slopes at these pressures, Pa absolute, and mixtures of all junctions: shape (nets, width).

        The slopes with pilot pressures stand in the order of `steered`.
        """
        p = pressures.ravel()
        pa, pb = p[self.a], p[self.b]
        gases, few = self.gases(mixes)
        values, by_a, by_b = np.empty_like(pa), np.empty_like(pa), np.empty_like(pa)
        by_pilots = []
        for group, ends in zip(self.groups, gases, strict=True):
            at = group.at
            found = group.law.flow(pa[at], pb[at], *ends, tuple([p[column] for column in group.pilots]))
            values[at], by_a[at], by_b[at] = found[:3]
            by_pilots += found[3]
        if self.few:
            at, p = slice(self.few_from, None), p.tolist()
            flows = [
                flow(p[i], p[j], *ends, tuple([p[k] for k in pilots]) if pilots else ())
                for (flow, i, j, pilots), ends in zip(self.few, few, strict=True)
            ]
            values[at], by_a[at], by_b[at] = np.array([flow[:3] for flow in flows]).T
            by_pilots.append([slope for flow in flows for slope in flow[3]])
        return Slopes(values, by_a, by_b, np.concatenate(by_pilots) if by_pilots else np.zeros(0), self.gain(values))

    def gain(self, values: np.ndarray) -> np.ndarray:
        """Return the ratio of outflow to inflow of each branch."""
        return 1 + self.rows.more * (values > 0)

    def surplus(self, values: np.ndarray, gain: np.ndarray) -> np.ndarray:
        """Return inflow minus outflow of each free junction, m3/s, shape (networks, free)."""
        size = self.count * self.width
        comes = summed(self.b, values * gain, size) - summed(self.a, values, size)
        return comes.reshape(self.count, self.width)[:, : self.free]

    def entries(self, s: Slopes, nets: np.ndarray, places: np.ndarray):
        """Return network (as a place in `nets`), place and value of each slope of some networks."""
        gain = s.gain
        values = np.concatenate(
            (-s.by_a, -s.by_b, s.by_a * gain, s.by_b * gain, -s.by_pilots, s.by_pilots * gain[self.steered])
        )[self.kept]
        if len(nets) == self.count:
            return self.entry_net, places, values
        number = np.full(self.count, -1)
        number[nets] = np.arange(len(nets))
        some = np.flatnonzero(number[self.entry_net] >= 0)
        return number[self.entry_net[some]], places[some], values[some]

    def ridge(self, nets: np.ndarray) -> np.ndarray:
        """Return what is taken from each diagonal element, shape (networks, free)."""
        return np.where(np.arange(self.free) < self.counts[nets, None], RIDGE, 1.0)

    def matrix(self, s: Slopes, nets: np.ndarray | None = None) -> np.ndarray:
        """Return the slope of each free junction's surplus with the pressure of each, shape (networks, free, free).

        nets  the networks to return, all by default
        """
        nets, free = np.arange(self.count) if nets is None else nets, self.free
        net, places, values = self.entries(s, nets, self.dense_places)
        whole = summed(net * (free * free) + places, values, len(nets) * free * free)
        whole = whole.reshape(-1, free, free)
        diagonal = np.einsum("nii->ni", whole)
        diagonal -= self.ridge(nets)
        return whole

    def step(self, s: Slopes, surplus: np.ndarray, nets: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
        """Return the pressure steps after which nothing is left of a surplus, and the diagonals of the matrices.

        nets  the networks of the surplus, all by default; both results have its shape
        """
        nets = np.arange(self.count) if nets is None else nets
        if len(nets) < MANY:
            matrix = self.matrix(s, nets)
            return solved(matrix, -surplus), np.einsum("nii->ni", matrix)
        places, count = self.places, len(nets)
        size, pairs = places.elimination.size, places.elimination.count
        net, at, values = self.entries(s, nets, self.sparse_places)
        whole = summed(at * count + net, values, (size + pairs) * count).reshape(-1, count)
        at, own = places.junctions[nets, : self.free].T, np.arange(count)
        right, ridge = np.zeros((size, count)), np.ones((size, count))
        right[at, own], ridge[at, own] = -surplus.T, self.ridge(nets).T
        ridge[places.elimination.outside], right[places.elimination.outside] = 1.0, 0.0
        diagonal = whole[:size] - ridge
        kept = diagonal[at, own].T
        return places.elimination.unknowns(diagonal, whole[size:], right)[at, own].T, kept

    def stepped(self, s: Slopes, step: np.ndarray) -> np.ndarray:
        """Return the flows after a pressure step, extrapolated linearly along the slopes.

        They balance at every junction except for rounding; flows computed from the laws do not.
        """
        whole = np.zeros((self.count, self.width))
        whole[:, : self.free] = step
        whole = whole.ravel()
        change = s.by_a * whole[self.a] + s.by_b * whole[self.b]
        if len(self.steered):
            change = change + summed(self.steered, s.by_pilots * whole[self.steering], len(change))
        return s.values + change


def summed(places: np.ndarray, amounts: np.ndarray, size: int) -> np.ndarray:
    """Return the sum of the amounts for each of `size` places, zero where there is none."""
    return np.bincount(places, amounts, size).astype(float, copy=False)


def solved(matrix: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Return the solutions of linear systems, shape (systems, unknowns); NaN for a singular matrix."""
    try:
        return np.linalg.solve(matrix, right[..., None])[..., 0]
    except np.linalg.LinAlgError:
        if len(matrix) == 1:
            return np.full_like(right, np.nan)
        return np.concatenate([solved(matrix[n : n + 1], right[n : n + 1]) for n in range(len(matrix))])


@dataclass(frozen=True)
class Places:
    """The junctions of all networks of a batch by one numbering, in which those of one name have one number.

    free         columns of a row for free junctions
    junctions    shape (networks, columns): the number of each junction; for columns that are not used, of the room
    by_network   for each network the numbers of its own junctions
    """

    free: int
    junctions: np.ndarray
    by_network: Sequence[np.ndarray]
    elimination: Elimination

    def of(self, nets: np.ndarray) -> Places:
        return replace(self, junctions=self.junctions[nets], by_network=[self.by_network[n] for n in nets])


def places_of(nets: Sequence[Net]) -> Places:
    number: dict = {port: k for k, port in enumerate((ROOM, DISPOSAL, STORE))}
    by_network = [np.array([number.setdefault(name, len(number)) for name in net.topology.names]) for net in nets]
    free, given = max(net.free for net in nets), max(net.size - net.free for net in nets)
    junctions = np.zeros((len(nets), free + given), dtype=int)
    for row, net, own in zip(junctions, nets, by_network, strict=True):
        row[: net.free], row[free : free + net.size - net.free] = own[: net.free], own[net.free :]
    pairs = set()
    for net, own in {id(net.topology): (net, own) for net, own in zip(nets, by_network, strict=True)}.values():
        ends, steering = own[net.topology.ends], net.topology.steering
        pairs |= {*map(tuple, ends.tolist())}
        for column in steering.T:
            some = column >= 0
            for end in ends[some].T:
                pairs |= {*zip(end.tolist(), own[column[some]].tolist(), strict=True)}
    return Places(free, junctions, by_network, Elimination(sorted(pairs), len(number), range(3)))


def balance_of(nets: Sequence[Net]) -> Balance:
    """Return the balance of some networks, at least one, whose laws are in one book."""
    free = max(net.free for net in nets)
    given = np.full((len(nets), max(net.size - net.free for net in nets)), np.nan)
    for row, net in zip(given, nets, strict=True):
        row[: net.size - net.free] = [pressure for pressure, _ in net.given]
        row[net.size - net.free :] = row[0]
    lengths = [len(net.branches) for net in nets]
    number = np.repeat(np.arange(len(nets)), lengths)
    first = np.repeat([net.free for net in nets], lengths)

    def columns(junctions):
        return np.where(junctions < first[:, None], junctions, junctions - first[:, None] + free)

    ends = columns(np.concatenate([net.topology.ends for net in nets]))
    pilots = np.concatenate([net.topology.steering for net in nets])
    law = np.concatenate([net.laws for net in nets])
    form, row = nets[0].book.places(law)
    rows = Rows(
        net=number,
        place=np.concatenate([np.arange(length) for length in lengths]),
        start=ends[:, 0],
        end=ends[:, 1],
        law=law,
        form=form,
        row=row,
        code=form * (MOST_PILOTS + 1) + (pilots >= 0).sum(axis=1),
        pilots=np.where(pilots < 0, -1, columns(pilots)),
        more=1 / (1 - np.concatenate([net.taken_up for net in nets])) - 1,
        is_few=np.zeros(len(law), dtype=bool),
    )
    rows, _ = rows.arranged(nets[0].book, np.arange(len(law)))
    return Balance(nets[0].book, rows, given, np.array([net.free for net in nets]), places_of(nets))
