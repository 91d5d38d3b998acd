"""Pressures read at flows through something that gas passes one way: the rows, what refuses them, and their picture."""

from collections.abc import Mapping

from .errors import BenchError
from .limits import Limit
from .measuring import Bench
from .pictures import limit_marks, points
from .power_law import Pairs
from .quantities import from_si
from .results import Curve

FORWARD_ONLY = "A larger flow through the same passage needs no less pressure."


def forward_pairs(bench: Bench, table: str) -> Pairs:
    """Return a table of flows and pressures as (flow, pressure) by flow: the order of its rows does not matter.

    Raises BenchError for a flow towards the higher pressure.
    """
    spec = next(spec for spec in bench.test.tables if spec.key == table)
    rows = bench.rows(table)
    for number, row in rows:
        if row["flow"].value > 0 and row["pressure"].value < 0:
            raise BenchError(
                f"{table}[{number}].pressure",
                f"{spec.label}, row {number}: {from_si(row['pressure'].value, 'kPa'):.3g} kPa is below the room, so "
                "that gas would flow towards the higher pressure. Take off what draws at the exhaust, zero the "
                "manometer, and read again.",
            )  # fmt: skip
    pairs = [(row["flow"], row["pressure"]) for _, row in rows]
    return sorted(pairs, key=lambda pair: (pair[0].value, pair[1].value))


def forward_curve(
    bench: Bench, tables: Mapping[str, Pairs], title: str, judge: Limit | None = None
) -> tuple[Curve, ...]:
    """Return the picture of pressure against flow, one line for each table that has rows."""
    found = {table: pairs for table, pairs in tables.items() if pairs}
    if not found:
        return ()
    first = next(iter(found))
    x_unit, y_unit = bench.unit(first, "flow"), bench.unit(first, "pressure")
    labels = {spec.key: spec.label for spec in bench.test.tables}
    series = tuple(points(labels[table].lower(), pairs, x_unit, y_unit) for table, pairs in found.items())
    marks = tuple(limit_marks("y", judge, y_unit))
    return (Curve("forward", title, "flow", x_unit, "pressure", y_unit, series, marks),)
