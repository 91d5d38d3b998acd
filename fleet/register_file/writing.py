"""Write a register file that reads back as it was."""

import csv
import io
from collections.abc import Iterable, Mapping

from fleet.register_file.columns import template_header


def register_text(rows: Iterable[Mapping[str, object]]) -> str:
    """Return CSV text with every column of the register; a value that a row lacks is left blank."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, fieldnames=template_header(), restval="")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()
