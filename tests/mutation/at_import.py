"""Mutants of what a module declares once, at import: a forked run has imported already and never meets them.

Each of them is tried again in a process of its own. Where the declarations look the same, nothing was declared anew and
the fork has judged rightly; where they differ, the tests of the part run once more, from their start.
"""

import os
import subprocess
import sys
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


def killed_at_import(folder: Path, part: Part, root: Path, names: list[str]) -> set[str]:
    """Return those of these mutants that the tests notice when they stand before the first import."""
    modules = [path.removesuffix(".py").replace("/", ".") for path in part.files(root)]
    sound = _declared(folder, "", modules)
    return {name for name in names if _is_noticed(folder, part, name, _declared(folder, name, modules), sound)}


def _is_noticed(folder: Path, part: Part, name: str, declared: str | None, sound: str | None) -> bool:
    if declared is None:
        return True
    if declared == sound:
        return False
    return _run(folder, name, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *part.tests).returncode == 1


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
