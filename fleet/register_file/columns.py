"""The columns of a register file: a fixed set, then one for each feature of the catalogue."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from fleet.catalogue import FEATURES

STATES = ("fitted", "not fitted", "not known")
DUTIES = ("in service", "withdrawn", "retired")


class ColumnKind(StrEnum):
    TEXT = "text"
    YEAR = "year"
    DATE = "date"
    WORD = "word"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: `words` are the accepted ones of a WORD; `is_needed` of a machine that is new to the register."""

    name: str
    kind: ColumnKind
    help: str
    longest: int = 0
    words: tuple[str, ...] = ()
    is_needed: bool = False
    is_feature: bool = False


FIXED = (
    Column("asset_number", ColumnKind.TEXT, "What the machine is known by; once in a file.", 40, is_needed=True),
    Column("serial", ColumnKind.TEXT, "Maker's serial number.", 60),
    Column("model", ColumnKind.TEXT, "Code of the machine model, or maker and name.", 160, is_needed=True),
    Column("site", ColumnKind.TEXT, "Code or name of the site.", 100, is_needed=True),
    Column("area", ColumnKind.TEXT, "Name of an area of that site.", 100, is_needed=True),
    Column("built_year", ColumnKind.YEAR, "Year of building, four digits."),
    Column("in_use_from", ColumnKind.DATE, "First day in use, year-month-day.", is_needed=True),
    Column("duty", ColumnKind.WORD, "Blank means in service for a new machine.", words=DUTIES),
    Column("note", ColumnKind.TEXT, "Anything else.", 2000),
)  # fmt: skip


def _feature_column(feature):
    return Column(feature.code, ColumnKind.WORD, feature.name, words=STATES, is_feature=True)


COLUMNS: Mapping[str, Column] = {
    column.name: column for column in (*FIXED, *(_feature_column(feature) for feature in FEATURES.values()))
}
NEEDED = tuple(column.name for column in FIXED if column.is_needed)


def template_header() -> tuple[str, ...]:
    """Return the names of all columns, in the order of the template."""
    return tuple(COLUMNS)


def accepted_columns() -> str:
    """Say in words which columns there are."""
    fixed = ", ".join(column.name for column in FIXED)
    return f"{fixed}, and one column for each protection, such as {next(iter(FEATURES))}."
