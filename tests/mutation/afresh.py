"""Mutants that a forked run cannot meet are tried again, each in a process of its own.

A fork has imported already, so it never meets a mutant of what a module declares once; and it holds what was cached
before, so it may never ask the mutant at all. Afresh run the tests of the module, and then those of the whole part
where the modules declare something else than without the mutant. Modules that it keeps from being imported need none.
"""

import os
import subprocess
import sys
from functools import cache
from pathlib import Path

from .parts import Part

_SHOW = """
import importlib, re, sys, types
import inspections.bench, fleet.circuit.elements, fleet.circuit.causes
for name in sys.argv[1:]:
    module = importlib.import_module(name)
    for key, value in sorted(vars(module).items()):
        if not key.startswith("__") and "mutmut" not in key and not isinstance(value, types.ModuleType | type):
            print(name, key, re.sub(" at 0x[0-9a-f]+", "", repr(value)))
"""


def killed_afresh(folder: Path, part: Part, root: Path, names: list[str]) -> set[str]:
    """Return those of these mutants that the tests notice when they stand before the first import."""
    modules = [path.removesuffix(".py").replace("/", ".") for path in part.files(root)]
    sound = _declared(folder, "", modules)
    return {name for name in names if _is_noticed(folder, part, name, sound, _declared(folder, name, modules))}


def _is_noticed(folder: Path, part: Part, name: str, sound: str | None, declared: str | None) -> bool:
    if declared is None:
        return sound is not None
    tests = [_nearest(folder, part, name), *([] if declared == sound else [part.tests])]
    return any(some and _passes(folder, "", some) and not _passes(folder, name, some) for some in tests)


@cache
def _passes(folder: Path, name: str, tests: tuple[str, ...]) -> bool:
    return not _run(folder, name, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *tests).returncode


def _nearest(folder: Path, part: Part, name: str) -> tuple[str, ...]:
    """Return the test files that are named after the mutant's module, else those that share its first word."""
    stem = name.split("__mutmut_")[0].split(".")[-2]
    places = [folder / "mutants" / place for place in part.tests]
    for word in (stem, stem.partition("_")[0].rstrip("s")):
        if found := tuple(str(path) for place in places for path in place.rglob(f"test_*{word}*.py")):
            return found
    return ()


def _declared(folder: Path, name: str, modules: list[str]) -> str | None:
    """Return what the modules hold once imported; None where they cannot be imported."""
    done = _run(folder, name, "-c", _SHOW, *modules)
    return None if done.returncode else done.stdout


def _run(folder: Path, name: str, *arguments: str) -> subprocess.CompletedProcess:
    environment = os.environ | {
        "CI": "true",
        "HYPOTHESIS_PROFILE": "mutation",
        "MUTANT_UNDER_TEST": name,
        "PYTHONHASHSEED": "0",
    }
    return subprocess.run(
        [sys.executable, *arguments], cwd=folder / "mutants", env=environment, capture_output=True, text=True
    )
