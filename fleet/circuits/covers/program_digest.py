"""Identifies the program that computed a cover: a table of another program is recomputed.

What counts is what a table is computed from: the modules that `computing` imports of the circuit and the catalogues,
and their data, as the interpreter understands them. Comments, docstrings, layout and drawings do not count.
"""

import ast
import json
import tomllib
from collections.abc import Iterator
from functools import cache
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

import fleet

SOFTWARE = version("bobbin")
ROOT = Path(fleet.__file__).parent.parent
START = "fleet/circuits/covers/computing.py"
COUNTED = ("fleet/circuit/", "fleet/catalogue/")


@cache
def rules() -> str:
    """Return 64 hex digits of the code and data that determine a cover."""
    return digest_of(counted_files())


def digest_of(files: dict[str, bytes]) -> str:
    """Return the digest of these files, content by path: modules without comments, docstrings and layout, and TOML."""
    found = sha256()
    for path, content in sorted(files.items()):
        found.update(f"{path}\0{_meaning(path, content)}\0".encode())
    return found.hexdigest()


@cache
def counted_files() -> dict[str, bytes]:
    """Return the modules that a table is computed with, and the TOML files beside them that they name."""
    found: dict[str, bytes] = {}
    waiting = [START]
    while waiting:
        path = waiting.pop()
        if path not in found:
            found[path] = (ROOT / path).read_bytes()
            waiting += [each for each in _imported(found[path]) if each.startswith(COUNTED)]
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
    tree = ast.parse(content)  # of its own: it is changed here
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if isinstance(body, list) and body and _is_docstring(body[0]):
            body[0] = ast.Pass()
    return ast.dump(tree)


def _is_docstring(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
