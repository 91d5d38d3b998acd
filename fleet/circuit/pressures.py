"""Finds the pressures at which inflow and outflow of each junction balance: Newton's method, with help if it fails.

Many networks are solved at once; each leaves the batch as soon as it has converged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from fleet.circuit.balance import Balance, Slopes, solved
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
FAR_SIDE, LEFT = (
    0.9,
    0.5,
)  # fractions of a step's driving power: against it at its end, and left after a search
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

    A step stays within the pressure range of the supplies and ends before its driving power changes sign.
    """
    free = balance.free
    here, p, gas, active = balance, pressures.copy(), mixes, np.arange(balance.count)
    s = here.slopes(p, gas)
    found = Found(p.copy(), s.of(slice(None), slice(None)), np.zeros((here.count, free)), np.zeros(here.count, bool))
    found = replace(found, slopes=Slopes(*(column.copy() for column in vars(s).values())))
    branches, pilots = np.arange(len(s.values)), np.arange(len(s.by_pilots))
    surplus = here.surplus(s.values, s.gain)
    for _ in range(STEPS):
        matrix = here.matrix(s)
        step = solved(matrix, -surplus)
        far = np.max(np.abs(step) / p[:, :free], axis=1, initial=0.0)
        rounding = ROUNDING * p[:, :free] * np.abs(np.einsum("nii->ni", matrix))
        still = (far <= STILL) | ((far <= NEARLY) & np.all(np.abs(surplus) <= rounding, axis=1))
        leaving = still | ~np.isfinite(far)
        if leaving.any():
            found.pressures[active] = p
            found.step[active[still]], found.done[active[still]] = step[still], True
            keep = np.flatnonzero(~leaving)
            found.slopes.put(branches, pilots, s)
            if not len(keep):
                return found
            here, kept, kept_pilots = here.of(keep)
            branches, pilots, active = branches[kept], pilots[kept_pilots], active[keep]
            s, gas = s.of(kept, kept_pilots), of_nets(gas, keep)
            p, step, surplus, rounding = p[keep], step[keep], surplus[keep], rounding[keep]
        lowest, highest = here.range()
        step = np.clip(p[:, :free] + step, lowest[:, None], highest[:, None]) - p[:, :free]
        p, s, surplus = along(here, p, step, surplus, gas, (np.abs(step) * rounding).sum(axis=1))
    found.pressures[active] = p
    return found


def along(balance: Balance, p, step, surplus, mixes: Gas, noise) -> tuple[np.ndarray, Slopes, np.ndarray]:
    """Return the point along a step to continue from, with slopes and surplus there.

    The driving power of a step is the sum of surplus times pressure change. It falls along the step, as every law is
    monotone. The end of the step is used unless the power there is as large with the opposite sign; then the point with
    little power left is searched for. A power below `noise` is rounding and is ignored.
    """
    driving = (step * surplus).sum(axis=1)
    there, s, left, power = at(balance, p, step, 1.0, mixes)
    beyond = np.flatnonzero((driving > noise) & (power < -FAR_SIDE * driving))
    if len(beyond):
        some, branches, pilots = balance.of(beyond)
        limits = driving[beyond], noise[beyond], power[beyond]
        point = searched(some, p[beyond], step[beyond], of_nets(mixes, beyond), *limits)
        there[beyond], left[beyond] = point[0], point[2]
        s.put(branches, pilots, point[1])
    return there, s, left


def at(balance: Balance, p, step, share, mixes: Gas):
    """Return the point at that share of a step, with slopes, surplus and driving power there."""
    there = p.copy()
    there[:, : balance.free] += step * share
    s = balance.slopes(there, mixes)
    left = balance.surplus(s.values, s.gain)
    return there, s, left, (step * left).sum(axis=1)


def searched(balance: Balance, p, step, mixes: Gas, driving, noise, power):
    """Return the point of each step where little driving power is left, with slopes and surplus there."""
    active = np.arange(balance.count)
    near, far = [np.zeros(len(active)), driving], [np.ones(len(active)), power]
    enough = np.maximum(LEFT * driving, noise)
    here, branches, pilots, result = balance, None, None, None
    for count in range(SEARCH):
        share = between(near, far, count)
        there, s, left, power = at(here, p, step, share[:, None], mixes)
        if result is None:
            result, branches, pilots = (there, s, left), np.arange(len(s.values)), np.arange(len(s.by_pilots))
        else:
            result[0][active], result[2][active] = there, left
            result[1].put(branches, pilots, s)
        keep = np.flatnonzero(np.abs(power) > enough)
        if not len(keep):
            break
        ahead = power > 0
        near, far = [
            [np.where(side, new, old) for new, old in zip((share, power), ends, strict=True)]
            for side, ends in ((ahead, near), (~ahead, far))
        ]
        if len(keep) < len(active):
            here, kept, kept_pilots = here.of(keep)
            branches, pilots, active = branches[kept], pilots[kept_pilots], active[keep]
            mixes, p, step, enough = of_nets(mixes, keep), p[keep], step[keep], enough[keep]
            near, far = [each[keep] for each in near], [each[keep] for each in far]
    return result


def between(near, far, count: int) -> np.ndarray:
    """Return the next trial point for the change of sign: in turn by linear interpolation, geometric mean and halving.

    Where a valve opens the sign may change after a millionth of the step; halving alone would take long.
    """
    (a, ahead), (b, behind) = near, far
    share = ahead / (ahead - behind)
    return a + (b - a) * (share, share**0.5, 0.5)[count % 3]


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
        part = s.of(branches, pilots)
        step[changed] = solved(some.matrix(part), -some.surplus(part.values, part.gain))
    rest = solved(balance.matrix(s), -balance.surplus(values, s.gain))
    pressures = found.pressures.copy()
    pressures[:, : balance.free] += step
    return Settled(pressures, balance.stepped(replace(s, values=values), rest), s.gain, s, failed)
