"""Help where Newton's method fails: junctions as small vessels that fill, or balanced one by one with their neighbours.

Both work on one network at a time, a batch of one.
"""

from __future__ import annotations

from fleet.circuit.balance import Balance, solved
from fleet.circuit.junctions import Net
from fleet.circuit.laws.numbers import Gas
from fleet.circuit.solution import NoSolution
from fleet.late import np, optimize

SWEEPS = 12  # over all junctions in one run
FILLING_STEPS, FIRST_STEP_S = 120, 1e-6
VESSEL_M3_PA = 1e-11  # a vessel of 1 mL at 100 kPa; it affects the path, not the result
LOWEST_PA_ABS, HIGHEST_PA_ABS = 1e-3, 1e9


def filled(balance: Balance, p: np.ndarray, mixes: Gas, net: Net) -> np.ndarray:
    """Return the pressures after a simulated time in which each junction is a small vessel that fills and empties.

    The circuit settles like a real machine. Time steps grow while the pressures change little.
    """
    free, time = balance.free, FIRST_STEP_S
    for _ in range(FILLING_STEPS):
        s = balance.slopes(p, mixes)
        matrix = balance.matrix(s)
        matrix[:, *np.diag_indices(free)] -= VESSEL_M3_PA / time
        step = solved(matrix, -balance.surplus(s.values, s.gain))[0]
        change = np.max(np.abs(step) / p[0, :free], initial=0.0)
        if not change <= 0.5:
            time /= 4
            continue
        p = p.copy()
        p[0, :free] += step
        time *= 2 if change < 0.1 else 1
    return p


def swept(balance: Balance, p: np.ndarray, mixes: Gas, net: Net) -> np.ndarray:
    """Return the pressures after each junction in turn was balanced with its neighbours, several times.

    The surplus of a junction falls as its own pressure rises, so its root can be bracketed and is always found.
    """
    p = p.copy()
    touching = [[] for _ in range(net.free)]
    calls = calls_of(balance, mixes)
    for call in calls:
        for junction in {call[1], call[2]}:
            if junction < net.free:
                touching[junction].append(call)
    for sweep in range(SWEEPS):
        order = range(net.free) if sweep % 2 == 0 else reversed(range(net.free))
        before = p.copy()
        for junction in order:
            p[0, junction] = balanced(p[0].tolist(), junction, touching[junction], net)
        if np.max(np.abs(p - before) / before) < 1e-6:
            break
    return p


def calls_of(balance: Balance, mixes: Gas) -> list[tuple]:
    """Return for each branch its law, ends, gases, pilots and the share by which its outflow exceeds its inflow."""
    rows = balance.rows
    gases = list(zip(mixes.molar_mass[0].tolist(), mixes.heat_ratio[0].tolist(), strict=True))
    return [
        (law.flow, i, j, Gas(*gases[i]), Gas(*gases[j]), tuple(n for n in pilots if n >= 0), more)
        for law, i, j, pilots, more in zip(
            balance.book.at(rows.law.tolist()),
            rows.start.tolist(),
            rows.end.tolist(),
            rows.pilots.tolist(),
            rows.more.tolist(),
            strict=True,
        )
    ]


def balanced(values: list[float], junction: int, calls: list[tuple], net: Net) -> float:
    """Return the pressure at which one junction balances while all others stay constant."""

    def surplus(pressure: float) -> float:
        values[junction] = pressure
        total = 0.0
        for flow, i, j, mix_a, mix_b, pilots, more in calls:
            value = flow(values[i], values[j], mix_a, mix_b, tuple(values[n] for n in pilots))[0]
            total += (j == junction) * value * (1 + more * (value > 0)) - (i == junction) * value
        return total

    low, high = values[junction], values[junction]
    here = surplus(low)
    if here == 0:
        return low
    while here > 0 and surplus(high) > 0:
        low, high = high, high * 2
        if high > HIGHEST_PA_ABS:
            raise NoSolution(f"More gas flows to {net.place(junction)} than can leave. Look for a shut outlet.")
    while here < 0 and surplus(low) < 0:
        low, high = low / 2, low
        if low < LOWEST_PA_ABS:
            raise NoSolution(f"More gas is drawn from {net.place(junction)} than can arrive. Look for a shut inlet.")
    return optimize.brentq(surplus, low, high, xtol=1e-9, rtol=1e-13)
