"""The items of a decommissioning, as data. Plain Python; the facts are in items.toml."""

import tomllib
from dataclasses import dataclass
from pathlib import Path

FILE = Path(__file__).with_name("items.toml")


@dataclass(frozen=True, slots=True)
class ChecklistItem:
    """One thing to be done; see the head of items.toml."""

    code: str
    title: str
    asks: str
    source: str
    basis: str
    caution: str = ""
    proof: str = ""
    routes: bool = False


def _read():
    data = tomllib.loads(FILE.read_text(encoding="utf-8"))
    return {one["code"]: ChecklistItem(**one) for one in data["item"]}, {
        one["code"]: one["title"] for one in data["route"]
    }


ITEMS, ROUTES = _read()
