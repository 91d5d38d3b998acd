"""A list pasted from a spreadsheet or typed: lines of cells, parted by tabs, semicolons or commas."""

import csv
from collections.abc import Sequence
from dataclasses import dataclass

from fleet.register_file.synonyms import plain_name

MOST_LINES = 2000
SEPARATORS = ("\t", ";", ",")


@dataclass(frozen=True, slots=True)
class PastedLine:
    """One line: its number, counted from 1, and as many cells as there are columns."""

    number: int
    cells: tuple[str, ...]


def pasted_lines(text: str, columns: Sequence[Sequence[str]]) -> tuple[list[PastedLine], list[tuple[int, str]]]:
    """Return the lines that are not blank, without a header, and the problems as (line, sentence).

    columns  the names of each column, of which a header uses one; a line may leave out the last cells
    """
    separator = next((sign for sign in SEPARATORS if sign in text), SEPARATORS[-1])
    found, problems = [], []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=separator))]
        if not found and _is_header(cells, columns):
            continue
        if len([cell for cell in cells[len(columns) :] if cell]):
            accepted = ", ".join(names[0] for names in columns)
            problems.append((number, f"has {len(cells)} cells. Accepted: {len(columns)} at most: {accepted}."))
            continue
        blank = [""] * len(columns)
        found.append(PastedLine(number, tuple([*cells, *blank][: len(columns)])))
    if len(found) > MOST_LINES:
        return [], [(0, f"{len(found):,} lines are too many at once. Accepted: {MOST_LINES:,} at most.")]
    return found, problems


def _is_header(cells, columns):
    """Return whether the cells of a line name its columns."""
    named = [plain_name(cell) in map(plain_name, names) for cell, names in zip(cells, columns, strict=False) if cell]
    return bool(named) and all(named)
