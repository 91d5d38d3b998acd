"""The rules of the house that no linter checks."""

import ast
import re
import subprocess
import sys
import tomllib
from importlib.metadata import distribution, packages_distributions
from itertools import chain
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]
TOP_LEVEL = {
    ".ci", ".editorconfig", ".gitattributes", ".gitignore", "DEVELOPERS.md", "LICENSE", "Makefile", "README.md",
    "config", "docker", "fleet", "inspections", "manage.py", "pyproject.toml", "tests",
}  # fmt: skip
PLAIN_PYTHON = (
    "fleet.catalogue", "fleet.circuit", "fleet.drawing", "fleet.register_file",
    "inspections.bench", "inspections.drawing", "inspections.planning", "inspections.review",
    "inspections.trends",
)  # fmt: skip
SOURCE_FOLDERS = ("config", "fleet", "inspections", "tests")
MODULE_LINES = 400
# Assembled here so that this file does not contain what it looks for.
REGISTRY = re.compile("|".join(["pypi" + r"\.org", "python" + r"hosted\.org", "index" + "-url", "find" + "-links"]))
MACHINE_PATH = re.compile(r"(?<![\w.])/" + r"(?:work|home/\w+|root|Users/\w+|opt/\w+)/")
INLINE_HANDLER = re.compile(r"<[a-z][^>]*\son[a-z]+\s*=", re.IGNORECASE)
INLINE_SCRIPT = re.compile(r"<script(?![^>]*\bsrc=)", re.IGNORECASE)


def tracked(*patterns: str) -> list[Path]:
    """Files that git tracks or would track, as they are in the work tree."""
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard", "--", *patterns]
    names = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout.splitlines()
    return [ROOT / name for name in sorted(set(names)) if (ROOT / name).is_file()]


def text_files() -> dict[Path, str]:
    texts = {}
    for path in tracked():
        data = path.read_bytes()
        if b"\0" not in data and path.parent.name != "register_files":  # broken on purpose
            texts[path] = data.decode("utf-8")
    return texts


def matches(texts: dict[Path, str], pattern: re.Pattern) -> list[str]:
    return [
        f"{path.relative_to(ROOT)}:{text.count(chr(10), 0, match.start()) + 1}: {match.group()}"
        for path, text in texts.items()
        for match in pattern.finditer(text)
    ]


def templates() -> dict[Path, str]:
    return {path: text for path, text in text_files().items() if path.suffix == ".html"}


def package_name(requirement: str) -> str:
    return re.sub(r"[-_.]+", "-", re.split(r"[\[<>=!~; ]", requirement, maxsplit=1)[0]).lower()


def project() -> dict:
    return tomllib.loads((ROOT / "pyproject.toml").read_text())


def pinned() -> dict[str, str]:
    lines = (ROOT / "config" / "constraints.txt").read_text().splitlines()
    pairs = [line.split("==") for line in lines if line and not line.startswith("#")]
    return {package_name(name): version for name, version in pairs}


def brought_along(requirements: list[str]) -> set[str]:
    """Return the names of these packages and of all that they require on this machine, in turn."""
    names, waiting = set(), [Requirement(text) for text in requirements]
    seen = set()
    while waiting:
        requirement = waiting.pop()
        if str(requirement) in seen:
            continue
        seen.add(str(requirement))
        names.add(package_name(requirement.name))
        extras = [{"extra": extra} for extra in requirement.extras or {""}]
        for text in distribution(requirement.name).requires or []:
            needed = Requirement(text)
            if needed.marker is None or any(needed.marker.evaluate(extra) for extra in extras):
                waiting.append(needed)
    return names


def test_the_top_level_holds_the_house_and_nothing_else():
    assert {path.relative_to(ROOT).parts[0] for path in tracked()} <= TOP_LEVEL


def test_no_file_names_a_package_registry():
    assert matches(text_files(), REGISTRY) == []


def test_no_file_names_a_path_of_one_machine():
    assert matches(text_files(), MACHINE_PATH) == []


def test_every_package_that_the_project_asks_for_is_pinned():
    wanted = [*project()["project"]["dependencies"], *chain(*project()["project"]["optional-dependencies"].values())]
    assert {package_name(requirement) for requirement in wanted} <= pinned().keys()


def imported(text: str) -> set[str]:
    """Return the names before the first dot of every module that a source imports, wherever in it."""
    nodes = list(ast.walk(ast.parse(text)))
    names = {alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names}
    names |= {node.module for node in nodes if isinstance(node, ast.ImportFrom) and not node.level}
    names |= set(re.findall(r'LateModule\("([\w.]+)"\)', text))
    return {name.split(".")[0] for name in names}


def imported_packages() -> dict[str, set[str]]:
    """Map each module outside the project that the program imports to the packages that bring it."""
    sources = tracked("config/*.py", "fleet/*.py", "inspections/*.py")
    own_and_python = {"config", "fleet", "inspections"} | sys.stdlib_module_names
    names = set().union(*(imported(path.read_text()) for path in sources)) - own_and_python
    of_module = packages_distributions()
    return {name: {package_name(one) for one in of_module.get(name, [])} for name in names}


def declared_packages() -> set[str]:
    return {package_name(requirement) for requirement in project()["project"]["dependencies"]}


def test_every_package_that_the_program_imports_is_declared():
    needed, declared = imported_packages(), declared_packages()
    assert {name for name, packages in needed.items() if not packages & declared} == set()
    assert "django" in needed


def test_every_declared_package_is_imported_or_named_in_the_settings():
    settings = (ROOT / "config" / "settings.py").read_text().lower()
    unused = declared_packages() - set().union(*imported_packages().values())
    modules = {package_name(one): name for name, packages in packages_distributions().items() for one in packages}
    assert {name for name in unused if not re.search(rf"[\".]{modules[name].strip('_').lower()}", settings)} == set()


def test_every_package_that_those_bring_along_is_installed_as_pinned():
    # What `make test` installs: the packages of `trials` are not among it, and are held to their pin by name above.
    wanted = [*project()["project"]["dependencies"], *project()["project"]["optional-dependencies"]["dev"]]
    installed = {name: distribution(name).version for name in brought_along(wanted)}
    assert {name: version for name, version in installed.items() if pinned().get(name) != version} == {}
    assert len(installed) > len(wanted)


@pytest.mark.parametrize("folder", SOURCE_FOLDERS)
def test_no_module_is_longer_than_the_house_allows(folder):
    lengths = {path: len(path.read_text().splitlines()) for path in tracked(f"{folder}/**.py", f"{folder}/*.py")}
    lengths = {path: n for path, n in lengths.items() if path.parent.name != "migrations"}  # made by Django
    assert {str(path.relative_to(ROOT)): n for path, n in lengths.items() if n > MODULE_LINES} == {}


def test_templates_hold_no_inline_script():
    assert matches(templates(), INLINE_SCRIPT) == []


def test_templates_hold_no_inline_event_handler():
    assert matches(templates(), INLINE_HANDLER) == []


def test_every_plain_package_is_under_the_import_contract():
    contracts = project()["tool"]["importlinter"]["contracts"]
    guarded = {module for contract in contracts for module in contract.get("source_modules", ())}
    there = {name for name in PLAIN_PYTHON if (ROOT / name.replace(".", "/")).is_dir()}
    assert there <= guarded


def test_every_template_file_reaches_an_installed_copy():
    """Package data are named by pattern in pyproject.toml; a template outside those folders would be missing."""
    folders = {part for path in templates() for part in path.relative_to(ROOT).parts[1:-1]}
    assert all("templates" in path.relative_to(ROOT).parts for path in templates()), folders
