"""Identifies the program version that computed a cover: a table of another version is recomputed."""

from functools import cache
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

import fleet.catalogue
import fleet.circuit

SOFTWARE = version("bobbin")
COUNTED = (".py", ".toml")


@cache
def rules():
    """Return 64 hex digits of the code and data that determine a cover: circuit package, catalogues, counts."""
    found = sha256()
    for package in (fleet.circuit, fleet.catalogue):
        root = Path(package.__file__).parent
        for path in sorted(path for path in root.rglob("*") if path.suffix in COUNTED):
            found.update(f"{path.relative_to(root)}\0".encode())
            found.update(path.read_bytes())
    found.update((Path(__file__).parent / "computing.py").read_bytes())
    return found.hexdigest()
