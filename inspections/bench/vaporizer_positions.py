"""The positions of a vaporizer rail: how many there are, which pairs of them were tried, and whether two can be on.

A rail excludes in pairs. Some kinds lock neighbours only: with the middle of three positions empty the outer two can be
turned on together. So every pair has to be tried, in both orders.
"""

from itertools import combinations

from .challenges import Reason, Unmet
from .errors import BenchError
from .measuring import Bench, Row
from .uncertainty import Estimate

Pair = tuple[int, int]


def whole_number(value: float, where: str, label: str) -> int:
    """Return a position or a count of them as a whole number from 1. Raises BenchError for anything else."""
    if value < 1 or value != round(value):
        raise BenchError(where, f"{label}: {value:g} is no whole number from 1. Count the positions from the left.")
    return int(value)


def position_count(bench: Bench) -> int | None:
    """Return how many positions the machine has, None where neither the sheet nor the record says.

    What is stated counts, but no fewer than the recorded vaporizers. Where nothing is stated these count, or the
    highest position that was tried: a rail may have an empty one beside them.
    """
    stated, recorded = _stated_count(bench), bench.context.vaporizers
    if stated is not None:
        return stated
    if recorded is None:
        return None
    return max((recorded, *(pair[1] for pair, _ in tried_pairs(bench))))


def _stated_count(bench: Bench) -> int | None:
    """Return the stated positions, no fewer than the recorded vaporizers; None where they are not stated."""
    stated = bench.value("positions", nominal=True)
    if stated is None:
        return None
    return max(whole_number(stated.value, "positions", "Positions for vaporizers"), bench.context.vaporizers or 0)


def tried_pairs(bench: Bench) -> list[tuple[Pair, Row]]:
    """Return the pairs that were tried, the lower position first, each with its row.

    Raises BenchError for a pair of one position, for one beyond those stated, and for a pair tried twice.
    """
    stated, found = _stated_count(bench), {}
    for number, row in bench.rows("pairs", nominal=("first", "second")):
        pair = _pair(number, row)
        if stated is not None and pair[1] > stated:
            raise BenchError(
                f"pairs[{number}]", f"Row {number}: position {pair[1]} is beyond the {stated} that the machine has. "
                "Correct the row or the number of positions.",
            )  # fmt: skip
        if pair in found:
            raise BenchError(
                f"pairs[{number}]", f"Row {number}: positions {pair[0]} and {pair[1]} have a row already. A row holds "
                "both orders; remove one of the two.",
            )  # fmt: skip
        found[pair] = row
    return sorted(found.items(), key=lambda one: one[0])


def _pair(number: int, row: Row) -> Pair:
    low, high = sorted(
        whole_number(row[key].value, f"pairs[{number}].{key}", f"Pairs of positions, row {number}")
        for key in ("first", "second")
    )
    if low == high:
        raise BenchError(
            f"pairs[{number}].second", f"Row {number}: a pair has two positions, not twice position {low}."
        )  # fmt: skip
    return low, high


def exclusion_of(tried: list[tuple[Pair, Row]]) -> tuple[Estimate, list[Pair]]:
    """Return whether one vaporizer keeps every other off in all pairs tried (1 or 0), and the pairs where it does not.

    tried  at least one pair
    """
    open_pairs = [pair for pair, row in tried if row["second_opens"].value or row["first_opens"].value]
    return Estimate(0.0 if open_pairs else 1.0), open_pairs


def pairs_untried(bench: Bench) -> Unmet | None:
    """Return which pairs of positions were not tried; None where all were."""
    count = position_count(bench)
    if count is None:
        return Unmet("How many positions the machine has for vaporizers is not known: state it.", Reason.NOT_KNOWN)
    tried = {pair for pair, _ in tried_pairs(bench)}
    left = [pair for pair in combinations(range(1, count + 1), 2) if pair not in tried]
    return Unmet(f"Not tried: positions {listed_pairs(left)}. Try every pair, in both orders.") if left else None


def listed_pairs(pairs: list[Pair]) -> str:
    """Return pairs in words: "1 and 2; 1 and 3"."""
    return "; ".join(f"{low} and {high}" for low, high in pairs)
