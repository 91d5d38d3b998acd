"""The file formats of the cover report: name and writer of each."""

from collections.abc import Callable
from dataclasses import dataclass

from fleet.cover_report.paper import write_pdf
from fleet.cover_report.sheets import write_csv, write_xlsx


@dataclass(frozen=True, slots=True)
class Export:
    """`write` takes the report, the machines with their place, and for whom it is made, and returns bytes."""

    content_type: str
    write: Callable[..., bytes]


EXPORTS = {
    "csv": Export("text/csv; charset=utf-8", write_csv),
    "xlsx": Export("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", write_xlsx),
    "pdf": Export("application/pdf", write_pdf),
}
