"""Every subject has a room: few modules at the root of an app, no circles, and the test of a module where one looks."""

import ast
from fnmatch import fnmatch
from functools import cache
from pathlib import Path

import grimp
import networkx
import pytest

from tests.tested_with import TESTED_WITH

ROOT = Path(__file__).resolve().parents[1]
APPS = ("config", "fleet", "inspections")
SET_UP = {"__init__", "apps", "urls"}  # Django looks for them at the root
MOST_AT_THE_ROOT = 8
MOST_IMPORTS_IN_FUNCTIONS = 10
SAY_NOTHING = {
    "base", "common", "facts", "figures", "helpers", "live", "misc", "parts", "recent", "seen", "shown", "story",
    "things", "util", "utils", "words",
}  # fmt: skip
NAMED_ALL_THE_SAME = {"fleet/circuit/elements/base.py": "the base class of every element"}
ROOMS_IN_A_CIRCLE = {}  # (room, room it imports): why this arrow closes a circle and stays


@cache
def modules():
    """Path without suffix -> syntax tree, of every module of the program but migrations."""
    paths = [path for app in APPS for path in (ROOT / app).rglob("*.py") if "migrations" not in path.parts]
    return {str(path.relative_to(ROOT).with_suffix("")): ast.parse(path.read_text()) for path in paths}


def imports_between(name_of):
    """The graph of imports between what `name_of` makes of each module; function-level ones count, too."""
    program, found = grimp.build_graph(*APPS, cache_dir=None), networkx.DiGraph()
    for module in program.modules:
        for imported in program.find_modules_directly_imported_by(module):
            if ".migrations" not in module + imported and name_of(module) != name_of(imported):
                found.add_edge(name_of(module), name_of(imported))
    return found


def circles(graph):
    return [sorted(circle) for circle in networkx.strongly_connected_components(graph) if len(circle) > 1]


@pytest.mark.parametrize("app", ["fleet", "inspections"])
def test_an_app_has_few_modules_at_its_root(app):
    loose = {path.stem for path in (ROOT / app).glob("*.py")} - SET_UP
    assert len(loose) <= MOST_AT_THE_ROOT, sorted(loose)


def test_the_name_of_a_file_says_what_it_holds():
    silent = {f"{name}.py" for name in modules() if name.rpartition("/")[2] in SAY_NOTHING}
    assert silent == set(NAMED_ALL_THE_SAME)


def test_no_rooms_import_each_other_in_a_circle():
    graph = imports_between(lambda module: ".".join(module.split(".")[:2]))
    assert all(arrow in graph.edges for arrow in ROOMS_IN_A_CIRCLE), "an exception that is none any more"
    graph.remove_edges_from(ROOMS_IN_A_CIRCLE)
    assert circles(graph) == []


def test_no_modules_import_each_other_in_a_circle():
    assert circles(imports_between(lambda module: module)) == []


def test_a_circle_would_be_found():
    graph = networkx.DiGraph([("a", "b"), ("b", "c"), ("c", "a"), ("c", "d")])
    assert circles(graph) == [["a", "b", "c"]]


def imports_in_functions():
    """Where a function imports, and the line with what stands above it."""
    for name, tree in modules().items():
        lines = (ROOT / f"{name}.py").read_text().splitlines()
        functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
        for node in {
            one for each in functions for one in ast.walk(each) if isinstance(one, ast.Import | ast.ImportFrom)
        }:
            yield f"{name}:{node.lineno}", "\n".join(lines[node.lineno - 2 : node.end_lineno])


def test_few_functions_import_and_each_says_why():
    found = dict(imports_in_functions())
    assert len(found) <= MOST_IMPORTS_IN_FUNCTIONS, sorted(found)
    assert [place for place, lines in found.items() if "#" not in lines] == []


def modules_with_logic():
    return [
        name
        for name, tree in modules().items()
        if name.rpartition("/")[2] not in SET_UP and any(isinstance(node, ast.FunctionDef) for node in ast.walk(tree))
    ]


def own_test(name):
    folder, _, stem = name.rpartition("/")
    return f"tests/{folder}/test_{stem}.py".replace("/management/commands/", "/management/")


def has_own_test(name):
    return (ROOT / own_test(name)).is_file()


def test_of(name):
    """Where the test of a module is: the test of its name, else what the first pattern that fits names."""
    if has_own_test(name):
        return own_test(name)
    return next((where for pattern, where in TESTED_WITH.items() if fnmatch(name, pattern)), None)


test_of.__test__ = False


def test_every_module_with_logic_has_the_test_of_its_name_or_says_where_its_test_is():
    assert [name for name in modules_with_logic() if test_of(name) is None] == []


def test_what_is_said_of_tests_elsewhere_holds():
    assert sorted(where for where in set(TESTED_WITH.values()) if not (ROOT / where).exists()) == []
    used, without = set(), [name for name in modules_with_logic() if not has_own_test(name)]
    for name in without:
        used.add(next(pattern for pattern in TESTED_WITH if fnmatch(name, pattern)))
    assert sorted(set(TESTED_WITH) - used) == [], "no module needs these any more"


def test_the_tests_of_the_api_are_beside_the_routers():
    for app in APPS:
        assert list((ROOT / "tests" / app / "api").glob("test_*.py")), f"{app}/api has no test"
