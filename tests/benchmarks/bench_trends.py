"""Trends of measured results: do intervals hold what they promise, against simpler methods, and how long it takes.

`python -m tests.benchmarks.bench_trends [--data DIR] [--machines 5000] [--tests 20]`. DIR holds a demonstration (`make
demo SERVE=no`); without one a demonstration is made in a folder of its own, which takes minutes.

Of each machine and test the last inspection is hidden, and predicted from all others of the fleet. A 90 % interval must
hold 88 to 92 % of what was hidden. What was hidden is left out where nothing can be foretold: less than three results
before it, a repair since, or a kind of result that never changed on any machine (it would always be held).

Beside it, with the same data: the last value, as wide as steps from one inspection to the next are in its family; and
the control chart of ILAC-G24:2022 / OIML D 10 (contents seen, method from memory: scatter and drift from the machine's
own results), a line through those results with its scatter and n - 2 degrees of freedom. A scatter counts as a tenth of
the stated uncertainty at least. The log score is the mean logarithm of the density at what came: more is better.
"""

import argparse
import os
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from tests.benchmarks.bench_slips import DEMO, demonstration, environment
from tests.benchmarks.harness import measure, table

LOW, HIGH = 0.88, 0.92
DEPARTURE = 0.01
CONCLUSIONS = "chance, date and advice"
OURS, LAST, CHART = "trend with its family", "last value", "control chart (ILAC-G24)"


def main():
    arguments = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_trends", description=__doc__)
    arguments.add_argument("--data", type=Path, default=DEMO, help="folder of a demonstration")
    arguments.add_argument("--machines", type=int, default=5000)
    arguments.add_argument("--tests", type=int, default=20)
    given = arguments.parse_args()
    with demonstration(given.data) as folder:
        import django

        os.environ.update(environment(folder))
        django.setup()
        print(report(hidden_results()))
    cases = simulated_fleet(given.machines, given.tests)
    title = f"Trends of {given.machines:,} machines x {given.tests} tests"
    print(table(title, measure(cases, repeats=3, warm_up=1), baseline=CONCLUSIONS))


@dataclass
class Hidden:
    """What was hidden and what each method said of it; lists of one length, `kinds` beside them."""

    kinds: list = field(default_factory=list)
    inside: list = field(default_factory=list)
    inside_half: list = field(default_factory=list)
    surprise: list = field(default_factory=list)
    scores: dict = field(default_factory=lambda: defaultdict(list))
    left_out: dict = field(default_factory=lambda: defaultdict(int))


def hidden_results():
    """Hide the last inspection of every machine and test, and predict it."""
    from django.utils import timezone

    from inspections.machine_trends.forecasting import measured_tests
    from inspections.machine_trends.signed_series import series_of

    found = Hidden()
    for test_code in measured_tests():
        shown, hidden = _split(series_of(test_code, at=timezone.now()), found)
        if shown:
            _predict(test_code, shown, hidden, found)
    return found


def _split(series, found):
    """Return series without their last inspection, and the first result of that inspection; for each in order."""
    from inspections.machine_trends.signed_series import Series

    shown, hidden = [], []
    for one in series:
        kept = sum(result.signed_at < one.results[-1].signed_at for result in one.results)
        if not kept:
            found.left_out["measured once"] += 1
            continue
        before = Series(one.machine, one.model, one.kind, one.results[:kept], one.stretches[:kept])
        shown.append(before)
        hidden.append((one.results[kept], one.stretches[kept] != one.stretches[kept - 1]))
    return shown, hidden


def _predict(test_code, shown, hidden, found):
    from inspections.machine_trends.forecasting import FEWEST
    from inspections.machine_trends.signed_series import histories_of
    from inspections.trends import predicted, trends_of

    histories = histories_of(shown)
    years = np.array([result.years for result, _ in hidden])
    values = np.array([result.value for result, _ in hidden])
    ahead = predicted(trends_of(histories), years)
    low, high = ahead.interval(0.9)
    low_half, high_half = ahead.interval(0.5)
    surprise, score = ahead.surprise(values), ahead.log_density(values)
    others = simpler_scores(histories, years, values)
    varies = histories.do_vary()[histories.kind[histories.family]]
    for number, one in enumerate(shown):
        why = _why_left_out(one, hidden[number][1], varies[number], FEWEST)
        if why:
            found.left_out[why] += 1
            continue
        found.kinds.append((test_code, one.kind[1]))
        found.inside.append(low[number] <= values[number] <= high[number])
        found.inside_half.append(low_half[number] <= values[number] <= high_half[number])
        found.surprise.append(surprise[number])
        found.scores[OURS].append(score[number])
        for name, scores in others.items():
            found.scores[name].append(scores[number])


def _why_left_out(series, is_repaired, varies, fewest):
    if len(series.results) < fewest:
        return f"less than {fewest} results before it"
    if is_repaired:
        return "repaired since"
    return "" if varies else "never changed on any machine"


def simpler_scores(histories, years, values):
    """Return the log scores of the simpler methods for each series."""
    from inspections.trends.histories import LEAST_SHARE

    floor = LEAST_SHARE * np.sqrt(histories.base_variances())
    inside = np.diff(histories.series) == 0
    steps = np.diff(histories.values)[inside] ** 2
    family = histories.family[histories.series[1:][inside]]
    count = len(histories.kind)
    pooled = np.bincount(family, weights=steps, minlength=count) / np.maximum(np.bincount(family, minlength=count), 1)
    scores = {LAST: [], CHART: []}
    for number in range(histories.count):
        here = np.flatnonzero(histories.series == number)
        least = floor[here].max()
        scale = max(np.sqrt(pooled[histories.family[number]]), least)
        scores[LAST].append(_normal(values[number], histories.values[here[-1]], scale))
        x, y = histories.years[here], histories.values[here]
        scores[CHART].append(_chart(x, y, least, years[number], values[number]))
    return scores


def _normal(value, centre, scale):
    from scipy import stats

    return float(stats.norm.logpdf(value, centre, scale))


def _chart(x, y, least, at, value):
    """Return the log density under a line through a machine's own results, with the scatter about it."""
    from scipy import stats

    if len(x) < 3 or np.ptp(x) == 0:
        return _normal(value, y[-1], least)
    away = x - x.mean()
    slope = (away * y).sum() / (away**2).sum()
    scatter = max(np.sqrt(((y - y.mean() - slope * away) ** 2).sum() / (len(x) - 2)), least)
    scale = scatter * np.sqrt(1 + 1 / len(x) + (at - x.mean()) ** 2 / (away**2).sum())
    return float(stats.t.logpdf(value, len(x) - 2, y.mean() + slope * (at - x.mean()), scale))


def report(found):
    inside, kinds = np.array(found.inside), np.array([": ".join(kind) for kind in found.kinds])
    lines = [f"Last inspections hidden and predicted: {len(inside):,} results"]
    lines += [f"  left out, {why}: {number:,}" for why, number in sorted(found.left_out.items())]
    lines += ["", f"{'90 % intervals that hold it':44} {'share':>7} {'of':>6}"]
    for kind in sorted(set(kinds)):
        chosen = kinds == kind
        lines.append(f"  {kind:42} {100 * inside[chosen].mean():6.1f}% {chosen.sum():6}")
    share = inside.mean()
    reached = "reached" if LOW <= share <= HIGH else "MISSED"
    lines.append(f"  {'all':42} {100 * share:6.1f}% {len(inside):6}")
    lines.append(f"{reached} the goal of {100 * LOW:.0f} to {100 * HIGH:.0f} %")
    lines.append(f"50 % intervals hold {100 * np.mean(found.inside_half):.1f} %")
    asked = np.mean(np.array(found.surprise) < DEPARTURE)
    lines.append(f"asked about before the signature (chance below {DEPARTURE}): {100 * asked:.1f} % of results")
    return "\n".join([*lines, "", *_scores(found)])


def _scores(found):
    yield f"{'log score above that of':44} {'mean':>7} {'median':>7} {'better in':>10}"
    ours = np.array(found.scores[OURS])
    for name in (LAST, CHART):
        above = ours - np.array(found.scores[name])
        yield f"  {name:42} {above.mean():7.2f} {np.median(above):7.2f} {100 * (above > 0).mean():9.0f}%"


def simulated_fleet(machines, tests):
    """Return the cases of the harness: trends, and what they mean for limits, of machines of 40 models."""
    from inspections.trends import Histories, outlook, trends_of

    rng, results = np.random.default_rng(1), 6
    series = machines * tests
    kind = np.tile(np.arange(tests), 40)
    family = (np.arange(series) % 40) * tests + np.arange(series) // machines
    years = np.cumsum(rng.uniform(0.3, 0.7, (series, results)), axis=1)
    values = rng.normal(0, 3, series)[:, None] + rng.normal(0.2, 0.3, series)[:, None] * years
    values += rng.normal(0, 0.5, values.shape)
    numbers = np.repeat(np.arange(series), results)
    std = np.full(series * results, 0.5)
    found = {}

    def trends():
        histories = Histories.of(numbers, years.ravel(), values.ravel(), std, family=family, kind=kind)
        found["trends"] = trends_of(histories)

    def outlooks():
        return outlook(found["trends"], np.full(series, 4.5), np.full(series, -8.0), np.full(series, 8.0), now=3.5)

    return {"trends, with widths learnt": trends, CONCLUSIONS: outlooks}


if __name__ == "__main__":
    main()
