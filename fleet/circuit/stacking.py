"""Puts flow laws of one form together, so that the flows of many branches are computed at once.

The form of a law is its class with the forms of what it consists of; laws of one form differ only in their numbers. A
law that is not Stackable has no form and is asked branch by branch.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fleet.circuit.flow import Law, Stackable
from fleet.late import np

NUMBER, NOTHING, ALONE = "number", "nothing", "alone"


def apart(law) -> tuple[object, tuple[float, ...]]:
    """Return the form of a law, or of a piece of one, and its numbers."""
    if law is None:
        return NOTHING, ()
    if not isinstance(law, Stackable):
        return (NUMBER, (float(law),)) if isinstance(law, (int, float)) else (ALONE, ())
    pieces = [apart(getattr(law, name)) for name in type(law).__dataclass_fields__]
    numbers = tuple(number for _, found in pieces for number in found)
    forms = tuple(form for form, _ in pieces)
    return (ALONE if ALONE in forms else (type(law), forms)), numbers


def together(form, columns: Iterator):
    """Return a law of that form from its numbers in order: floats, or arrays over branches."""
    if form == NOTHING:
        return None
    if form == NUMBER:
        return next(columns)
    kind, forms = form
    law = object.__new__(kind)  # the checks of a single law were made when it was built
    for name, piece in zip(kind.__dataclass_fields__, forms, strict=True):
        object.__setattr__(law, name, together(piece, columns))
    return law


class LawBook:
    """Laws by number, each with its form and its row among the laws of that form."""

    def __init__(self):
        self.laws: list[Law] = []
        self._numbers: dict[int, int] = {}
        self._forms: dict[object, int] = {}
        self._rows: list[list[tuple[float, ...]]] = []
        self._places: list[tuple[int, int]] = []
        self._tables: list[np.ndarray | None] = []

    def number(self, law: Law) -> int:
        """Return the number of a law, a new one if it is not in the book."""
        known = self._numbers.get(id(law))
        if known is None:
            form, numbers = apart(law)
            index = self._forms.setdefault(form, len(self._forms))
            if index == len(self._rows):
                self._rows.append([])
                self._tables.append(None)
            known = self._numbers[id(law)] = len(self.laws)
            self.laws.append(law)
            self._places.append((index, len(self._rows[index])))
            self._rows[index].append(numbers)
        return known

    def places(self, numbers: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return for each law number its form, as an index, and its row."""
        places = np.array(self._places, dtype=int).reshape(-1, 2)[numbers]
        return places[:, 0], places[:, 1]

    def stands_alone(self, forms: np.ndarray) -> np.ndarray:
        """Return which of these forms, by index, cannot be put together."""
        return np.array([form == ALONE for form in self._forms], dtype=bool)[forms]

    def stacked(self, form: int, rows: np.ndarray) -> Law:
        """Return the laws in these rows of a form as one law with arrays."""
        table = self._tables[form]
        if table is None or table.shape[1] < len(self._rows[form]):
            table = self._tables[form] = np.array(self._rows[form], dtype=float).T
        return together(list(self._forms)[form], iter(table[:, rows]))

    def at(self, numbers: Sequence[int]) -> list[Law]:
        return [self.laws[number] for number in numbers]
