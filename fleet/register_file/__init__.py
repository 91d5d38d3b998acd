"""The register as a CSV file: its columns, and reading one into checked rows. No database, no files."""

from fleet.register_file.columns import COLUMNS, Column, ColumnKind, template_header
from fleet.register_file.parsing import MAX_BYTES, MAX_ROWS, ParsedFile, ParsedRow, parse_register
from fleet.register_file.problems import Problem
from fleet.register_file.writing import register_text

__all__ = [
    "COLUMNS",
    "MAX_BYTES",
    "MAX_ROWS",
    "Column",
    "ColumnKind",
    "ParsedFile",
    "ParsedRow",
    "Problem",
    "parse_register",
    "register_text",
    "template_header",
]
