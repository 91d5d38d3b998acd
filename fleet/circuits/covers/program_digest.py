"""Identifies the program that computed a cover, and the one that reads circuits from records.

A table of another program is recomputed. What counts is what a table is computed from: the modules that `computing`
imports of the circuit and the catalogues, and their data, as the interpreter understands them. Comments, docstrings,
layout and drawings do not count, nor does the release of Python. For records, what makes circuits of them counts too.
"""

import ast
import inspect
import json
import tomllib
from collections.abc import Iterator
from functools import cache
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

import fleet
from fleet.extensions import measurers

SOFTWARE = version("bobbin")
ROOT = Path(fleet.__file__).parent.parent
COMPUTING, STORING = "fleet/circuits/covers/computing.py", "fleet/circuits/covers/storing.py"
COUNTED = ("fleet/circuit/", "fleet/catalogue/")
OF_RECORDS = (*COUNTED, "fleet/circuits/")


@cache
def rules() -> str:
    """Return 64 hex digits of the code and data that determine a cover."""
    return digest_of(counted_files())


@cache
def record_rules() -> str:
    """Return 64 hex digits of the code and data that determine the cover of a machine from its records."""
    measuring = (Path(inspect.getfile(measure)).relative_to(ROOT).as_posix() for measure in measurers())
    return digest_of(counted_files((STORING, *measuring), OF_RECORDS))


def digest_of(files: dict[str, bytes]) -> str:
    """Return the digest of these files, content by path: modules without comments, docstrings and layout, and TOML."""
    found = sha256()
    for path, content in sorted(files.items()):
        found.update(f"{path}\0{_meaning(path, content)}\0".encode())
    return found.hexdigest()


@cache
def counted_files(starts: tuple[str, ...] = (COMPUTING,), counted: tuple[str, ...] = COUNTED) -> dict[str, bytes]:
    """Return the modules that these import from the folders that count, and the TOML files beside them that they name.

    By default those with which a table is computed.
    """
    found: dict[str, bytes] = {}
    waiting = list(starts)
    while waiting:
        path = waiting.pop()
        if path not in found:
            found[path] = (ROOT / path).read_bytes()
            waiting += [each for each in _imported(found[path]) if each.startswith(counted)]
    return found | {path: (ROOT / path).read_bytes() for path in _data_of(found)}


def _imported(content: bytes) -> Iterator[str]:
    """Yield the paths of what a module imports, and of the packages around it."""
    for node in ast.walk(ast.parse(content)):
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
        for name in names:
            base = name.replace(".", "/")
            yield from (path for path in (f"{base}.py", f"{base}/__init__.py") if (ROOT / path).is_file())


def _data_of(modules: dict[str, bytes]) -> Iterator[str]:
    for path, content in modules.items():
        for data in sorted((ROOT / path).parent.glob("*.toml")):
            if data.name.encode() in content:
                yield str(data.relative_to(ROOT))


def _meaning(path: str, content: bytes) -> str:
    if path.endswith(".toml"):
        return json.dumps(tomllib.loads(content.decode()), sort_keys=True, default=str)
    return repr(_told(ast.parse(content)))


def _told(node: object) -> object:
    """Return what a piece of a module says: its kind and its fields, except what is empty, and no docstrings.

    Releases of Python add fields to the grammar, which are empty in modules that do without them.
    """
    if isinstance(node, list):
        return [_told(each) for each in node]
    if not isinstance(node, ast.AST):
        return node
    fields = {name: value for name, value in ast.iter_fields(node) if value not in (None, []) or name == "value"}
    body = fields.get("body")
    if isinstance(body, list) and _is_docstring(body[0]):
        fields["body"] = [ast.Pass(), *body[1:]]
    return type(node).__name__, *((name, _told(value)) for name, value in sorted(fields.items()))


def _is_docstring(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
