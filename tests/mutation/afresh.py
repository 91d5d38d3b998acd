"""Mutants that a forked run cannot meet are tried again, each in a process that imports the tree with it.

The run has imported already, so it never meets a mutant of what a module declares once; and it holds what was cached
before, so it may never ask the mutant at all. Afresh run the tests of the module and those of declarations, and then
those of the whole part where the modules declare something else than without the mutant.
"""

import json
import os
import subprocess
import sys
from fnmatch import fnmatch
from functools import cache
from pathlib import Path

from tests.tested_with import TESTED_WITH

from .parts import Part

SECONDS = 900  # without a word from the fork; the tests of the bench take a few minutes


def killed_afresh(folder: Path, part: Part, root: Path, names: list[str]) -> set[str]:
    """Return those of these mutants that the tests notice when they stand before the first import."""
    if not names:
        return set()
    modules = [path.removesuffix(".py").replace("/", ".") for path in part.files(root)]
    with _started(folder, part) as process:
        fresh = _Fresh(process, part, modules)
        return {name for name in names if fresh.notices(name)}


class _Fresh:
    """The process that forks, asked by lines of JSON."""

    def __init__(self, process: subprocess.Popen, part: Part, modules: list[str]):
        self.process, self.part = process, part
        self.declares = lambda mutant: self._ask(mutant=mutant, modules=modules)
        self.passes = cache(lambda mutant, tests: self._ask(mutant=mutant, tests=tests) == 0)
        self.sound = self.declares("")

    def notices(self, mutant: str) -> bool:
        declared = self.declares(mutant)
        if declared is None:
            return self.sound is not None
        tests = [(*nearest(mutant), *self.part.first), *([] if declared == self.sound else [self.part.tests])]
        return any(some and self.passes("", some) and not self.passes(mutant, some) for some in tests)

    def _ask(self, **question):
        self.process.stdin.write(json.dumps(question | {"seconds": SECONDS}) + "\n")
        self.process.stdin.flush()
        return json.loads(self.process.stdout.readline())


def nearest(mutant: str) -> tuple[str, ...]:
    """Return the test file that is named after the mutant's module, else the one said to hold its tests."""
    module = mutant.split("__mutmut_")[0].rpartition(".")[0].replace(".", "/")
    room, _, name = module.rpartition("/")
    own = f"tests/{room}/test_{name}.py"
    if Path(own).exists():
        return (own,)
    return tuple(where for pattern, where in TESTED_WITH.items() if fnmatch(module, pattern))[:1]


def _started(folder: Path, part: Part) -> subprocess.Popen:
    environment = os.environ | {
        "CI": "true",
        "HYPOTHESIS_PROFILE": "mutation",
        "MUTANT_UNDER_TEST": "",
        "PYTHONHASHSEED": "0",
    }
    return subprocess.Popen(
        [sys.executable, "tests/mutation/forks.py", *part.tests], cwd=folder / "mutants", env=environment,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
