"""Finds the pressures at which inflow and outflow of each junction balance: Newton's method, with help if it fails."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from itertools import chain

from fleet.circuit.gases import Mix
from fleet.circuit.solution import NoSolution
from fleet.late import linalg, np, optimize
from tests.fleet.circuit.oracle.junctions import Net

STILL = 1e-11  # a Newton step relative to the pressure below which the pressures have converged
NEARLY = 1e-6  # the same if only rounding is out of balance, as at the point where a valve opens
STEPS = 60  # of Newton's method in one run; about 25 are usual from a cold start, 5 from a similar state
SEARCH = 40  # trial points along one step
ROUNDING = 2e-15  # of a pressure
FAR_SIDE, LEFT = (
    0.9,
    0.5,
)  # fractions of a step's driving power: against it at its end, and left after a search
SWEEPS = 12  # over all junctions in one run
FILLING_STEPS, FIRST_STEP_S = 120, 1e-6
VESSEL_M3_PA = 1e-11  # a vessel of 1 mL at 100 kPa; it affects the path, not the result
ROUNDS = 6  # runs of Newton's method, with help in between, before a circuit counts as unsolvable
LEAST_SHARE, HEADROOM_PA = 0.02, 100e3  # below the lowest given pressure, and above the highest
LOWEST_PA_ABS, HIGHEST_PA_ABS = 1e-3, 1e9
RIDGE = 1e-24  # m3/s per Pa, keeps the matrix regular if every law is flat


@cache
def _gesv():
    """Return LAPACK's solver of a linear system."""
    return linalg.get_lapack_funcs(("gesv",), (np.empty((1, 1)),))[0]


@dataclass(frozen=True)
class Slopes:
    """Flows and slopes at given pressures, by branch; `gain` is the ratio of outflow to inflow of a branch."""

    values: np.ndarray
    by_a: np.ndarray
    by_b: np.ndarray
    by_pilots: np.ndarray
    gain: np.ndarray


class Balance:
    """The flow balance of every junction as a function of the pressures, for given mixtures."""

    def __init__(self, net: Net):
        self.net = net
        self.a, self.b = net.ends[:, 0], net.ends[:, 1]
        self.given = np.array([pressure for pressure, _ in net.given])
        owner = [k for k, pilots in enumerate(net.pilots) for _ in pilots]
        self.steered = np.array(owner, dtype=int)
        self.steering = np.array([junction for pilots in net.pilots for junction in pilots], dtype=int)
        a, b, size = self.a, self.b, net.size
        pa, pb = a[self.steered], b[self.steered]
        self.places = np.concatenate(
            (
                a * size + a,
                a * size + b,
                b * size + a,
                b * size + b,
                pa * size + self.steering,
                pb * size + self.steering,
            )
        )
        self.calls = [
            (branch.law.flow, i, j, pilots)
            for (_, branch), (i, j), pilots in zip(net.branches, net.ends.tolist(), net.pilots, strict=True)
        ]
        self.more = 1 / (1 - net.taken_up) - 1

    def range(self) -> tuple[float, float]:
        """Return the pressure range of the search: wider than any machine can reach."""
        return LEAST_SHARE * float(self.given.min()), HEADROOM_PA + float(self.given.max())

    def slopes(self, pressures: np.ndarray, mixes: list[Mix]) -> Slopes:
        """Return flows and slopes at these pressures of all junctions, Pa absolute."""
        p = pressures.tolist()
        flows = [
            flow(p[i], p[j], mixes[i], mixes[j], tuple([p[k] for k in pilots]) if pilots else ())
            for flow, i, j, pilots in self.calls
        ]
        values = np.array([flow[0] for flow in flows])
        return Slopes(
            values,
            np.array([flow[1] for flow in flows]),
            np.array([flow[2] for flow in flows]),
            np.array(list(chain.from_iterable(flow[3] for flow in flows))),
            self.gain(values),
        )

    def gain(self, values: np.ndarray) -> np.ndarray:
        """Return the ratio of outflow to inflow of each branch."""
        return 1 + self.more * (values > 0)

    def surplus(self, values: np.ndarray, gain: np.ndarray) -> np.ndarray:
        """Return inflow minus outflow of each free junction, m3/s."""
        size = self.net.size
        comes = np.bincount(self.b, values * gain, size) - np.bincount(self.a, values, size)
        return comes[: self.net.free]

    def matrix(self, s: Slopes) -> np.ndarray:
        """Return the slope of each free junction's surplus with the pressure of each junction."""
        size, free = self.net.size, self.net.free
        gain = s.gain
        entries = np.concatenate(
            (-s.by_a, -s.by_b, s.by_a * gain, s.by_b * gain, -s.by_pilots, s.by_pilots * gain[self.steered])
        )
        whole = np.bincount(self.places, entries, size * size).reshape(size, size)[:free, :free]
        whole[np.diag_indices(free)] -= RIDGE
        return whole

    def stepped(self, s: Slopes, step: np.ndarray) -> np.ndarray:
        """Return the flows after a pressure step, extrapolated linearly along the slopes.

        They balance at every junction except for rounding; flows computed from the laws do not.
        """
        whole = np.append(step, np.zeros(len(self.given)))
        change = s.by_a * whole[self.a] + s.by_b * whole[self.b]
        if len(self.steered):
            change = change + np.bincount(self.steered, s.by_pilots * whole[self.steering], len(change))
        return s.values + change


@dataclass(frozen=True)
class Settled:
    """Converged pressures at all junctions, and balanced flows by branch."""

    pressures: np.ndarray
    values: np.ndarray
    gain: np.ndarray
    slopes: Slopes


def settle(balance: Balance, pressures: np.ndarray, mixes: list[Mix]) -> Settled:
    """Return the pressures at which every junction balances. Raises NoSolution, which names a junction."""
    p = pressures
    for turn in range(ROUNDS):
        p, found = newton(balance, p, mixes)
        if found is not None:
            return found
        p = filled(balance, p, mixes) if turn % 2 else swept(balance, p, mixes)
    s = balance.slopes(p, mixes)
    surplus = np.abs(balance.surplus(s.values, s.gain))
    worst = int(np.argmax(surplus))
    raise NoSolution(
        f"No steady flow was found: at {balance.net.place(worst)} inflow and outflow differ by "
        f"{surplus[worst] * 6e7:.3g} mL/min. Check the values of the components connected there."
    )


def newton(balance: Balance, p: np.ndarray, mixes: list[Mix]) -> tuple[np.ndarray, Settled | None]:
    """Return the last point of Newton's method, and the converged pressures if it has converged.

    A step stays within the pressure range of the supplies and ends before its driving power changes sign.
    """
    free = balance.net.free
    lowest, highest = balance.range()
    s = balance.slopes(p, mixes)
    surplus = balance.surplus(s.values, s.gain)
    for _ in range(STEPS):
        matrix = balance.matrix(s)
        step = solved(matrix, -surplus)
        if not np.all(np.isfinite(step)):
            break
        far = np.max(np.abs(step) / p[:free], initial=0.0)
        rounding = ROUNDING * p[:free] * np.abs(matrix.diagonal())
        if far <= STILL or (far <= NEARLY and np.all(np.abs(surplus) <= rounding)):
            return p, finished(balance, p, s, step)
        step = np.clip(p[:free] + step, lowest, highest) - p[:free]
        p, s, surplus = along(balance, p, step, surplus, mixes, float(np.abs(step) @ rounding))
    return p, None


def along(balance: Balance, p: np.ndarray, step: np.ndarray, surplus: np.ndarray, mixes: list[Mix], noise: float):
    """Return the point along a step to continue from, with slopes and surplus there.

    The driving power of a step is the sum of surplus times pressure change. It falls along the step, as every law is
    monotone. The end of the step is used unless the power there is as large with the opposite sign; then the point with
    little power left is searched for. A power below `noise` is rounding and is ignored.
    """
    driving = float(step @ surplus)

    def at(share: float):
        there = moved(p, step * share)
        s = balance.slopes(there, mixes)
        left = balance.surplus(s.values, s.gain)
        return float(step @ left), (there, s, left)

    power, point = at(1.0)
    if driving <= noise or power >= -FAR_SIDE * driving:
        return point
    near, far = (0.0, driving), (1.0, power)
    for count in range(SEARCH):
        share = between(near, far, count)
        power, point = at(share)
        if abs(power) <= max(LEFT * driving, noise):
            break
        if power > 0:
            near = (share, power)
        else:
            far = (share, power)
    return point


def between(near: tuple[float, float], far: tuple[float, float], count: int) -> float:
    """Return the next trial point for the change of sign: in turn by linear interpolation, geometric mean and halving.

    Where a valve opens the sign may change after a millionth of the step; halving alone would take long.
    """
    (a, ahead), (b, behind) = near, far
    share = ahead / (ahead - behind)
    return a + (b - a) * (share, share**0.5, 0.5)[count % 3]


def finished(balance: Balance, p: np.ndarray, s: Slopes, step: np.ndarray) -> Settled:
    """Return the converged pressures after a last step, with vapour added to the flows that then go forward.

    A second step removes the rounding error of the smallest flows.
    """
    for _ in range(STEPS):
        values = balance.stepped(s, step)
        gain = balance.gain(values)
        if np.array_equal(gain, s.gain):
            break
        s = replace(s, gain=gain)
        step = solved(balance.matrix(s), -balance.surplus(s.values, gain))
    rest = solved(balance.matrix(s), -balance.surplus(values, s.gain))
    return Settled(moved(p, step), balance.stepped(replace(s, values=values), rest), s.gain, s)


def solved(matrix: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Return the solution of a linear system; NaN if the matrix is singular."""
    if not len(right):
        return right
    _, _, x, info = _gesv()(matrix, right)
    return x if info == 0 else np.full_like(right, np.nan)


def moved(p: np.ndarray, step: np.ndarray) -> np.ndarray:
    there = p.copy()
    there[: len(step)] += step
    return there


def filled(balance: Balance, p: np.ndarray, mixes: list[Mix]) -> np.ndarray:
    """Return the pressures after a simulated time in which each junction is a small vessel that fills and empties.

    The circuit settles like a real machine. Time steps grow while the pressures change little.
    """
    free, time = balance.net.free, FIRST_STEP_S
    for _ in range(FILLING_STEPS):
        s = balance.slopes(p, mixes)
        matrix = balance.matrix(s)
        matrix[np.diag_indices(free)] -= VESSEL_M3_PA / time
        step = solved(matrix, -balance.surplus(s.values, s.gain))
        change = np.max(np.abs(step) / p[:free], initial=0.0)
        if not change <= 0.5:
            time /= 4
            continue
        p = moved(p, step)
        time *= 2 if change < 0.1 else 1
    return p


def swept(balance: Balance, p: np.ndarray, mixes: list[Mix]) -> np.ndarray:
    """Return the pressures after each junction in turn was balanced with its neighbours, several times.

    The surplus of a junction falls as its own pressure rises, so its root can be bracketed and is always found.
    """
    p = p.copy()
    touching = [[] for _ in range(balance.net.free)]
    for k, (_, i, j, _) in enumerate(balance.calls):
        for junction in {i, j}:
            if junction < balance.net.free:
                touching[junction].append(k)
    for sweep in range(SWEEPS):
        order = range(balance.net.free) if sweep % 2 == 0 else reversed(range(balance.net.free))
        before = p.copy()
        for junction in order:
            p[junction] = balanced(balance, p, mixes, junction, touching[junction])
        if np.max(np.abs(p - before) / before) < 1e-6:
            break
    return p


def balanced(balance: Balance, p: np.ndarray, mixes: list[Mix], junction: int, branches: list[int]) -> float:
    """Return the pressure at which one junction balances while all others stay constant."""
    values = p.tolist()

    def surplus(pressure: float) -> float:
        values[junction] = pressure
        total = 0.0
        for k in branches:
            flow, i, j, pilots = balance.calls[k]
            value = flow(values[i], values[j], mixes[i], mixes[j], tuple(values[n] for n in pilots))[0]
            total += (j == junction) * value * (1 + balance.more[k] * (value > 0)) - (i == junction) * value
        return total

    low, high = values[junction], values[junction]
    here = surplus(low)
    if here == 0:
        return low
    while here > 0 and surplus(high) > 0:
        low, high = high, high * 2
        if high > HIGHEST_PA_ABS:
            raise NoSolution(f"More gas flows to {balance.net.place(junction)} than can leave. Look for a shut outlet.")
    while here < 0 and surplus(low) < 0:
        low, high = low / 2, low
        if low < LOWEST_PA_ABS:
            raise NoSolution(
                f"More gas is drawn from {balance.net.place(junction)} than can arrive. Look for a shut inlet."
            )
    return optimize.brentq(surplus, low, high, xtol=1e-9, rtol=1e-13)
