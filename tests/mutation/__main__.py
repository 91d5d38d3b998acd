"""python -m tests.mutation laws --processes 2"""

import argparse
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

from .afresh import killed_afresh
from .explained import read_explanations, reason_for
from .parts import PARTS
from .run import ROOT, Mutant, copy_tree, described, run_mutants, statuses


def main() -> int:
    parser = argparse.ArgumentParser(
        prog="python -m tests.mutation",
        description="Put faults into the code, one at a time; list those no test notices.",
    )
    parser.add_argument("part", choices=[*PARTS, "all"], help="what to mutate; each part takes minutes")
    parser.add_argument("--processes", type=int, default=2, help="how many at once, default 2")
    parser.add_argument("--ending", default="", help="only faults whose number ends so: a digit leaves about a tenth")
    options = parser.parse_args()
    names = list(PARTS) if options.part == "all" else [options.part]
    return max(_run(name, options.processes, options.ending) for name in names)


def _run(name: str, processes: int, ending: str) -> int:
    with tempfile.TemporaryDirectory(prefix="bobbin-mutation-") as folder:
        copy_tree(Path(folder), PARTS[name])
        try:
            run_mutants(Path(folder), processes, ending)
        except subprocess.CalledProcessError as error:
            print(error.stdout, error.stderr, f"{name}: the tests fail without a mutant.", sep="\n")
            return 2
        found = {one: status for one, status in statuses(Path(folder)).items() if one.endswith(ending)}
        alive = {one: described(Path(folder), one, status) for one, status in found.items() if status != "killed"}
        unexplained = [one for one, mutant in alive.items() if not reason_for(mutant, read_explanations())]
        for one in killed_afresh(Path(folder), PARTS[name], ROOT, unexplained):
            found[one] = "killed"
            del alive[one]
    return _report(name, Counter(found.values()), list(alive.values()))


def _report(name: str, counts: Counter, alive: list[Mutant]) -> int:
    explanations = read_explanations()
    unexplained = [mutant for mutant in alive if not reason_for(mutant, explanations)]
    for mutant in unexplained:
        print(f"{mutant.where} ({mutant.status})\n  - {mutant.before}\n  + {mutant.after}")
    counted = ", ".join(f"{count} {status}" for status, count in counts.most_common())
    print(f"{name}: {counts.total()} mutants: {counted}; of those alive {len(alive) - len(unexplained)} are explained, "
          f"{len(unexplained)} are not.")  # fmt: skip
    for reason, count in Counter(reason_for(one, explanations) for one in alive if one not in unexplained).items():
        print(f"  {count} may live: {reason}")
    return 1 if unexplained else 0


if __name__ == "__main__":
    sys.exit(main())
