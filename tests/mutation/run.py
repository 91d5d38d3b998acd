"""Run mutmut over one part, in a copy of the tree, and return the mutants that no test noticed."""

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from .parts import Part

ROOT = Path(__file__).resolve().parents[2]

_SETTINGS = """
[tool.mutmut]
source_paths = ["config", "fleet", "inspections"]
only_mutate = {files}
also_copy = ["manage.py", "README.md", "DEVELOPERS.md", "Makefile"]
pytest_add_cli_args = ["-q", "-p", "no:cacheprovider"]
pytest_add_cli_args_test_selection = {tests}
use_git_change_detection = false
track_dependencies = false
"""


@dataclass(frozen=True, slots=True)
class Mutant:
    """A fault that was put in: where, what became of it, and the lines that it changed, stripped."""

    where: str
    status: str
    before: str
    after: str


def copy_tree(folder: Path, part: Part):
    """Put the committed tree into an empty folder, with the settings of one part."""
    packed = subprocess.run(["git", "archive", "HEAD"], cwd=ROOT, check=True, capture_output=True).stdout
    subprocess.run(["tar", "x", "-C", folder], input=packed, check=True)
    with (folder / "pyproject.toml").open("a") as file:
        file.write(_SETTINGS.format(files=part.files(ROOT), tests=list(part.tests)))


def run_mutants(folder: Path, processes: int, ending: str = ""):
    """Run the mutants of the copy whose names end so. Raises CalledProcessError where the tests fail without one."""
    only = [f"*{ending}"] if ending else []
    _mutmut(folder, "run", "--max-children", str(processes), *only, check=True)


def statuses(folder: Path) -> dict[str, str]:
    """Return what became of each mutant, by its name."""
    lines = _mutmut(folder, "results", "--all", "true").splitlines()
    return dict(line.strip().rsplit(": ", 1) for line in lines if ": " in line)


def described(folder: Path, name: str, status: str) -> Mutant:
    """Return one mutant as the lines that it changed."""
    lines = _mutmut(folder, "show", name).splitlines()
    changed = {
        sign: " ".join(line[1:].strip() for line in lines if line[:1] == sign and line[:3] != sign * 3) for sign in "-+"
    }
    return Mutant(_where(name), status, changed["-"], changed["+"])


def _where(name: str) -> str:
    """Return fleet.circuit.laws.valves.OneWay.flow for the name that mutmut gives its mutants."""
    function = name.split("__mutmut_")[0]
    module, _, last = function.rpartition(".")
    return f"{module}.{last.replace('xǁ', '').replace('ǁ', '.').removeprefix('x_')}"


def _mutmut(folder: Path, *arguments: str, check: bool = False) -> str:
    command = [str(Path(sys.executable).with_name("mutmut")), *arguments]
    done = subprocess.run(
        command,
        cwd=folder,
        env=os.environ | {"CI": "true", "HYPOTHESIS_PROFILE": "mutation"},
        capture_output=True,
        text=True,
    )
    if check and done.returncode:
        raise subprocess.CalledProcessError(done.returncode, command, done.stdout[-4000:], done.stderr[-4000:])
    return done.stdout
