"""What a sum can close at 100, 800 and 5,000 machines: time, gap and growth, beside a greedy baseline of the same run.

    .venv/bin/python -m tests.benchmarks.bench_fleet_choice

The fleets are made from a fixed seed: models with ages, missing safety features and odd prices, areas with minimums.
"""

import random
from time import perf_counter

from inspections.planning.fleet_choice import (
    AreaLimit,
    Candidate,
    Problem,
    Year,
    broken_limits,
    choose,
    closed_points,
    frontier,
    greedy_choices,
    options_of,
)

SIZES = (100, 800, 5000)
SECONDS = 50.0
FRONTIER_SIZE = 800
HAZARDS = {
    "hypoxic-mixture": 100,
    "wrong-gas": 90,
    "barotrauma": 80,
    "no-fresh-gas": 80,
    "two-agents": 60,
    "awareness": 60,
}


def make_fleet(size, seed=1):
    """A fleet of about one model for 25 machines, each in a few states of alteration; money for a fifth of it."""
    rng = random.Random(seed)
    models = [_model(rng) for _ in range(max(4, size // 25))]
    areas = {f"a{n}": AreaLimit(8, rng.randint(5, 8)) for n in range(max(2, size // 8))}
    machines = tuple(
        Candidate(f"m{n}", f"a{n % len(areas)}", sum(points.values()), options)
        for n in range(size)
        for points, options in [rng.choice(rng.choice(models))]
    )
    return Problem(machines, (Year(size * 300_000 + 1_237, size // 5, size * 40),) * 3, areas)


def _model(rng):
    """Up to four states of a model, each with its open hazards and what can be done to it."""
    replacement = rng.randint(2_500_000, 6_500_000)
    prices = {f"f{n}": (rng.randint(20_000, 450_000), rng.choice((45, 60, 90, 240))) for n in range(6)}
    states = []
    for _ in range(rng.randint(1, 4)):
        points = {code: HAZARDS[code] for code in rng.sample(sorted(HAZARDS), rng.randint(0, 5))}
        sets = {code: frozenset(rng.sample(sorted(prices), rng.randint(1, 2))) for code in points}
        needs = {code: [features] for code, features in sets.items() if rng.random() < 0.8}
        states.append((points, options_of(points, needs, prices, replacement=replacement)))
    return states


def measure(size):
    problem = make_fleet(size)
    started = perf_counter()
    plain = greedy_choices(problem)
    baseline = perf_counter() - started
    started = perf_counter()
    plan = choose(problem, seconds=SECONDS)
    seconds = perf_counter() - started
    assert broken_limits(problem, plan.choices) == []
    return seconds, plan, baseline, closed_points(problem, plain), problem


HEAD = ("machines", "seconds", "growth", "gap %", "bound", "closes", "greedy", "better %", "greedy s")


def main():
    print(" ".join(f"{word:>11}" for word in HEAD))
    before = None
    for size in SIZES:
        seconds, plan, baseline, plain, _ = measure(size)
        growth = f"x{seconds / before:.1f}" if before else ""
        before = seconds
        reached = "reached" if plan.is_proved else "not reached"
        better = f"{100 * (plan.closed - plain) / max(1, plain):.1f}"
        cells = (size, f"{seconds:.1f}", growth, f"{100 * plan.gap:.5f}", reached, plan.closed, plain, better)
        print(" ".join(f"{cell:>11}" for cell in (*cells, f"{baseline:.2f}")))
    started = perf_counter()
    points = frontier(make_fleet(FRONTIER_SIZE), seconds=SECONDS)
    worst, seconds = max(point.plan.gap for point in points), perf_counter() - started
    print(f"{len(points)} sums at {FRONTIER_SIZE} machines: {seconds:.1f} s, gap at most {100 * worst:.5f} %")


if __name__ == "__main__":
    main()
