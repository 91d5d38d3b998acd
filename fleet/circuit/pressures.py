"""Finds the pressures at which inflow and outflow of each junction balance: Newton's method, with help if it fails.

Many networks are solved at once; each leaves the batch as soon as it has converged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from fleet.circuit.balance import Balance, Slopes
from fleet.circuit.junctions import Net
from fleet.circuit.laws.numbers import Gas
from fleet.circuit.solution import NoSolution
from fleet.circuit.vessels import filled, swept
from fleet.late import np

STILL = 1e-11  # a Newton step relative to the pressure below which the pressures have converged
NEARLY = 1e-6  # the same if only rounding is out of balance, as at the point where a valve opens
STEPS = 60  # of Newton's method in one run; about 25 are usual from a cold start, 5 from a similar state
SEARCH = 40  # trial points along one step
ROUNDING = 2e-15  # of a pressure
LEFT = 0.5  # fraction of a step's driving power that may be against it at its end, or left after a search
ROUNDS = 6  # runs of Newton's method, with help in between, before a circuit counts as unsolvable


@dataclass(frozen=True)
class Settled:
    """Converged pressures at all junctions, and balanced flows by branch, of a batch of networks.

    failed  why a network has no solution, by its index; its pressures and flows mean nothing
    """

    pressures: np.ndarray
    values: np.ndarray
    gain: np.ndarray
    slopes: Slopes
    failed: dict[int, NoSolution] = field(default_factory=dict)


@dataclass(frozen=True)
class Found:
    """Where Newton's method came to: slopes and last step there; `done` tells which networks have converged."""

    pressures: np.ndarray
    slopes: Slopes
    step: np.ndarray
    done: np.ndarray


def settle(balance: Balance, pressures: np.ndarray, mixes: Gas, nets: Sequence[Net]) -> Settled:
    """Return the pressures at which every junction of every network balances."""
    found, failed = newton(balance, pressures, mixes), {}
    for turn in range(ROUNDS - 1):
        left = np.array([n for n in np.flatnonzero(~found.done) if n not in failed], dtype=int)
        if not len(left):
            break
        p = found.pressures
        for n in left:
            one, gas = alone(balance, n), of_nets(mixes, [n])
            try:
                p[n] = (filled if turn % 2 else swept)(one, p[[n]], gas, nets[n])[0]
            except NoSolution as error:
                failed[int(n)] = error
        left = np.array([n for n in left if n not in failed], dtype=int)
        if len(left):
            again(balance, found, mixes, left)
    for n in np.flatnonzero(~found.done):
        failed.setdefault(int(n), out_of_balance(alone(balance, n), found.pressures[[n]], of_nets(mixes, [n]), nets[n]))
    return finished(balance, found, failed)


def again(balance: Balance, found: Found, mixes: Gas, left: np.ndarray) -> None:
    """Run Newton's method once more for some networks, from where they are."""
    some, branches, pilots = balance.of(left)
    more = newton(some, found.pressures[left], of_nets(mixes, left))
    found.pressures[left], found.step[left], found.done[left] = more.pressures, more.step, more.done
    found.slopes.put(branches, pilots, more.slopes)


def alone(balance: Balance, n: int) -> Balance:
    return balance.of(np.array([n]))[0]


def of_nets(mixes: Gas, nets) -> Gas:
    return Gas(mixes.molar_mass[nets], mixes.heat_ratio[nets])


def out_of_balance(balance: Balance, p: np.ndarray, mixes: Gas, net: Net) -> NoSolution:
    s = balance.slopes(p, mixes)
    surplus = np.abs(balance.surplus(s.values, s.gain))[0]
    worst = int(np.argmax(surplus))
    return NoSolution(
        f"No steady flow was found: at {net.place(worst)} inflow and outflow differ by "
        f"{surplus[worst] * 6e7:.3g} mL/min. Check the values of the components connected there."
    )


def newton(balance: Balance, pressures: np.ndarray, mixes: Gas) -> Found:
    """Return the last point of Newton's method for each network.

    A step stays within the pressure range of the supplies and ends before its driving power changes sign: the sum of
    surplus times pressure change. It falls along the step, as every law is monotone. The end of the step is used unless
    the power there is as large with the opposite sign; then the point with little power left is searched for. A power
    below the rounding error is ignored. Each network is at a point of its own step or search.
    """
    found, walk = None, Walk.begin(balance, pressures, mixes)
    while True:
        there = walk.p.copy()
        there[:, : balance.free] += walk.step * walk.share[:, None]
        s = walk.here.slopes(there, walk.mixes)
        if found is None:
            still = np.zeros((balance.count, balance.free)), np.zeros(balance.count, dtype=bool)
            found = Found(pressures.copy(), s.copy(), *still)
        left = walk.here.surplus(s.values, s.gain)
        arrived = walk.arrived(left)
        if len(arrived):
            walk.p[arrived] = there[arrived]
            walk.turn(arrived, s, left[arrived], found)
        if walk.over.all():
            return found
        if 4 * np.count_nonzero(walk.over) >= len(walk.over):
            walk = walk.of(np.flatnonzero(~walk.over))


@dataclass
class Walk:
    """Networks on their way, each on one of its steps.

    active, branches, pilots  their numbers, and those of their branches and pilots, among all that began
    share, count              the some_slopes of the step to try, and the trials of a search so far; -1 for none
    near, far                 share and power on either side of the change of sign
    over                      has converged, or cannot
    """

    here: Balance
    mixes: Gas
    active: np.ndarray
    branches: np.ndarray
    pilots: np.ndarray
    p: np.ndarray
    step: np.ndarray
    share: np.ndarray
    count: np.ndarray
    near: np.ndarray
    far: np.ndarray
    driving: np.ndarray
    noise: np.ndarray
    steps: np.ndarray
    over: np.ndarray

    @classmethod
    def begin(cls, balance: Balance, pressures: np.ndarray, mixes: Gas) -> Walk:
        count, none = balance.count, np.zeros(balance.count)
        numbers = np.arange(count), np.arange(len(balance.a)), np.arange(len(balance.steered))
        ends = np.zeros((count, 2)), np.ones((count, 2))
        step, trials = np.zeros((count, balance.free)), np.full(count, -1)
        state = none.copy(), none.copy(), np.zeros(count, dtype=int), np.zeros(count, dtype=bool)
        return cls(balance, mixes, *numbers, pressures.copy(), step, none.copy(), trials, *ends, *state)

    def of(self, keep: np.ndarray) -> Walk:
        """Return some of the networks."""
        here, branches, pilots = self.here.of(keep)
        by_network = (
            self.p, self.step, self.share, self.count, self.near, self.far, self.driving, self.noise, self.steps,
            self.over,
        )  # fmt: skip
        numbers = self.active[keep], self.branches[branches], self.pilots[pilots]
        return Walk(here, of_nets(self.mixes, keep), *numbers, *(column[keep] for column in by_network))

    def arrived(self, left: np.ndarray) -> np.ndarray:
        """Return the networks whose step ends here, from the surplus here; the others get another share to try."""
        power = np.einsum("nj,nj->n", self.step, left)
        searches = self.count >= 0
        beyond = ~searches & (self.driving > self.noise) & (power < -LEFT * self.driving)
        enough = np.maximum(LEFT * self.driving, self.noise)
        goes_on = searches & (np.abs(power) > enough) & (self.count < SEARCH - 1)
        more = np.flatnonzero((beyond | goes_on) & ~self.over)
        if len(more):
            self._search(more, power)
        return np.flatnonzero(~(beyond | goes_on | self.over))

    def _search(self, nets: np.ndarray, power: np.ndarray) -> None:
        """Choose the next share to try for these networks: their change of sign is before or behind this point."""
        share, power, begins = self.share[nets], power[nets], (self.count[nets] < 0)[:, None]
        point, near, far = np.array((share, power)).T, self.near[nets], self.far[nets]
        is_ahead = (power > 0)[:, None]
        first = np.array((np.zeros_like(power), self.driving[nets])).T
        near = np.where(begins, first, np.where(is_ahead, point, near))
        far = np.where(begins | ~is_ahead, point, far)
        self.near[nets], self.far[nets] = near, far
        self.count[nets] += 1
        self.share[nets] = between(near, far, self.count[nets])

    def turn(self, arrived: np.ndarray, s: Slopes, surplus: np.ndarray, found: Found) -> None:
        """Begin the next step of these networks; those that have converged, or cannot, are over."""
        here, free = self.here, self.here.free
        p = self.p[arrived, :free]
        step, diagonal = here.step(s, surplus, arrived)
        far = np.max(np.abs(step) / p, axis=1, initial=0.0)
        rounding = ROUNDING * p * np.abs(diagonal)
        still = (far <= STILL) | ((far <= NEARLY) & np.all(np.abs(surplus) <= rounding, axis=1))
        self.steps[arrived] += 1
        ends = still | ~np.isfinite(far) | (self.steps[arrived] > STEPS)
        if ends.any():
            self._end(arrived[ends], step[ends], still[ends], s, found)
        lowest, highest = here.range()
        step = np.clip(p + step, lowest[arrived, None], highest[arrived, None]) - p
        step[ends] = 0.0
        self.step[arrived], self.share[arrived], self.count[arrived] = step, 1.0, -1
        self.driving[arrived] = np.einsum("nj,nj->n", step, surplus)
        self.noise[arrived] = np.einsum("nj,nj->n", np.abs(step), rounding)

    def _end(self, ended: np.ndarray, step: np.ndarray, still: np.ndarray, s: Slopes, found: Found) -> None:
        self.over[ended] = True
        to = self.active[ended]
        found.pressures[to], found.done[to] = self.p[ended], still
        found.step[to[still]] = step[still]
        of_ended = np.zeros(self.here.count, dtype=bool)
        of_ended[ended] = True
        rows = np.flatnonzero(of_ended[self.here.rows.net])
        pilots = np.flatnonzero(of_ended[self.here.rows.net[self.here.steered]])
        found.slopes.put(self.branches[rows], self.pilots[pilots], s.of(rows, pilots))


def between(near: np.ndarray, far: np.ndarray, count: np.ndarray) -> np.ndarray:
    """Return the next trial point for the change of sign: in turn by linear interpolation, geometric mean and halving.

    near, far  shape (steps, 2): share and power on either side; count  the number of the trial
    Where a valve opens the sign may change after a millionth of the step; halving alone would take long.
    """
    share, turn = near[:, 1] / (near[:, 1] - far[:, 1]), count % 3
    share = np.where(turn == 0, share, np.where(turn == 1, np.sqrt(share), 0.5))
    return near[:, 0] + (far[:, 0] - near[:, 0]) * share


def finished(balance: Balance, found: Found, failed: dict[int, NoSolution]) -> Settled:
    """Return the converged pressures after a last step, with vapour added to the flows that then go forward.

    A second step removes the rounding error of the smallest flows.
    """
    s, step = found.slopes, found.step
    for _ in range(STEPS):
        values = balance.stepped(s, step)
        gain = balance.gain(values)
        changed = np.unique(balance.rows.net[gain != s.gain])
        if not len(changed):
            break
        s = replace(s, gain=gain)
        some, branches, pilots = balance.of(changed)
        some_slopes = s.of(branches, pilots)
        step[changed] = some.step(some_slopes, some.surplus(some_slopes.values, some_slopes.gain))[0]
    rest, _ = balance.step(s, balance.surplus(values, s.gain))
    pressures = found.pressures.copy()
    pressures[:, : balance.free] += step
    return Settled(pressures, balance.stepped(replace(s, values=values), rest), s.gain, s, failed)
