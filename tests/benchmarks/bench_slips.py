"""How many slips are asked about, and how many sound readings wrongly, on the history of the demonstration.

`python -m tests.benchmarks.bench_slips [--data DIR] [--seed N]`. DIR holds a demonstration (`make demo SERVE=no`);
without one a demonstration is made in a folder of its own, which takes minutes.

Each reading is compared with what was known before it. A sound reading is one of the history as it was entered: also
one that fails. Then each reading is spoilt in three ways: another unit chosen at random among those of its place, the
point shifted by one or two places, two neighbouring digits swapped. A slip counts if it changes the value by 15 % at
least and by four times what the place varies by on this machine: no method sees what the machine itself does from year
to year. The others are left out as within the scatter. Not possible: zero has no point to shift, 22 no digits to swap.
"""

import argparse
import os
import random
import subprocess
import sys
from collections import Counter, defaultdict
from contextlib import contextmanager
from pathlib import Path
from statistics import pstdev
from tempfile import TemporaryDirectory

from tests.benchmarks.databases import PLAIN, ROOT

DEMO = ROOT / ".bobbin" / "demo"
LEAST = 0.14  # of the natural logarithm: 15 %
SPREADS = 4.0
NEAR = 0.05  # an alternative this near to what was read is the right one
GOAL_CAUGHT, GOAL_WRONG = 0.95, 0.01
UNIT, POINT, DIGITS = "unit mistaken", "point shifted", "digits swapped"


def main():
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--data", type=Path, default=DEMO, help="folder of a demonstration")
    arguments.add_argument("--seed", type=int, default=1)
    given = arguments.parse_args()
    with demonstration(given.data) as folder:
        import django

        os.environ.update(environment(folder))
        django.setup()
        print(report(measured(given.seed), given.seed))


@contextmanager
def demonstration(folder):
    """Yield a folder with a demonstration: the one given, or one made for this measurement."""
    if (folder / "bobbin.sqlite3").exists():
        yield folder
        return
    with TemporaryDirectory() as made:
        for command in ("migrate", "demo"):
            subprocess.run(
                [sys.executable, "manage.py", command], cwd=ROOT, env=os.environ | environment(made), check=True
            )
        yield Path(made)


def environment(folder):
    return PLAIN | {"DATA_DIR": str(folder), "DATABASE_URL": f"sqlite:///{folder}/bobbin.sqlite3"}


def measured(seed):
    """Return counts by group: of readings, of questions about them, and of slips by kind."""
    from inspections.bench.slips import question_about
    from tests.benchmarks.slip_history import cases, steps_of_history

    rng, counts = random.Random(seed), Counter()
    steps = steps_of_history()
    spreads = spreads_of(steps)
    for case in cases(steps, rng):
        kind = "of failed steps" if case.entered.is_of_failed else "sound"
        counts[case.group, kind, "all"] += 1
        counts[case.group, kind, "asked"] += question_about(case.entered.typed, case.units, case.known) is not None
        for slip, spoilt in spoilt_readings(case, rng):
            outcome = outcome_of(case, spoilt, spreads[case.place])
            counts[case.group, slip, outcome] += 1
            if outcome == "counted":
                found = question_about(spoilt, case.units, case.known)
                counts[case.group, slip, "caught"] += found is not None
                counts[case.group, slip, "right one offered"] += offers_what_was_read(case, found)
    return counts


def spoilt_readings(case, rng):
    """Yield each kind of slip with one way in which it can spoil the reading, None where there is none."""
    from inspections.bench.slips import other_units, shifted, swapped

    typed = case.entered.typed
    ways = {
        UNIT: other_units(typed, case.units),
        POINT: [typed.with_digits(digits) for digits in shifted(typed.digits)],
        DIGITS: [typed.with_digits(digits) for digits in swapped(typed.digits)],
    }
    for slip, spoilt in ways.items():
        yield slip, rng.choice(spoilt) if spoilt else None


def outcome_of(case, spoilt, spread):
    """Return whether a slip counts, or why it does not."""
    from inspections.bench.slips import distance

    if spoilt is None:
        return "not possible"
    away = distance(case.known.scale, spoilt.value, case.entered.typed.value)
    return "counted" if away >= max(LEAST, SPREADS * spread(case)) else "within the scatter"


def spreads_of(steps):
    """Map each place of each machine to what it varies by over the whole history: at least its resolution."""
    values = defaultdict(list)
    for step in steps:
        for one in step.readings:
            values[(*step.place, *one.read.slot)].append(one.read)
    return {place: lambda case, reads=reads: spread_of(case, reads) for place, reads in values.items()}


def spread_of(case, reads):
    scale = case.known.scale
    positions = [position for one in reads if (position := scale.position(one.value)) is not None]
    step = scale.width(case.entered.typed.value, min(one.step for one in reads))
    return max(pstdev(positions) if len(positions) > 1 else 0.0, 0.41 * step)


def offers_what_was_read(case, question):
    from inspections.bench.slips import distance

    offered = question.alternatives if question else ()
    return any(distance(case.known.scale, one.typed.value, case.entered.typed.value) < NEAR for one in offered)


def report(counts, seed):
    from tests.benchmarks.slip_history import MODEL, NOTHING, OTHER_SETTINGS, OWN

    lines = [f"Slips in the readings of the demonstration, seed {seed}"]
    for group in (OWN, OTHER_SETTINGS, MODEL, NOTHING):
        lines += ["", f"Compared with: {group}"]
        for kind in ("sound", "of failed steps"):
            lines.append(_share(f"asked wrongly, {kind}", counts[group, kind, "asked"], counts[group, kind, "all"]))
        for slip in (UNIT, POINT, DIGITS):
            lines.append(_slips(counts, group, slip))
        kinds = (UNIT, POINT, DIGITS)
        caught, counted = (sum(counts[group, slip, what] for slip in kinds) for what in ("caught", "counted"))
        lines.append(_share("caught, all slips", caught, counted))
    return "\n".join([*lines, "", *_verdict(counts, OWN), "", *_verdict(counts, OTHER_SETTINGS)])


def _slips(counts, group, slip):
    at = {what: counts[group, slip, what] for what in ("caught", "counted", "right one offered")}
    left_out = counts[group, slip, "within the scatter"], counts[group, slip, "not possible"]
    words = f"; right one offered {at['right one offered']:,}; left out {left_out[0]:,} within the scatter"
    return _share(f"caught, {slip}", at["caught"], at["counted"]) + words + f", {left_out[1]:,} not possible"


def _share(words, part, whole):
    share = f"{100 * part / whole:6.2f} %" if whole else "   none"
    return f"  {words:32} {share}  ({part:,} of {whole:,})"


def _verdict(counts, group):
    yield group[:1].upper() + group[1:] + ":"
    for slip in (UNIT, POINT, DIGITS):
        share = counts[group, slip, "caught"] / max(1, counts[group, slip, "counted"])
        yield f"{slip}: {'reached' if share >= GOAL_CAUGHT else 'MISSED'} the goal of {100 * GOAL_CAUGHT:.0f} % caught"
    for kind in ("sound", "of failed steps"):
        share = counts[group, kind, "asked"] / max(1, counts[group, kind, "all"])
        reached = "reached" if share <= GOAL_WRONG else "MISSED"
        yield f"{kind}: {reached} the goal of {100 * GOAL_WRONG:.0f} % asked wrongly"


if __name__ == "__main__":
    main()
