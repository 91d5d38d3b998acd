"""Registers as files, CSV and XLSX: kinds of file and their columns, and reading one into checked rows. No database."""

from fleet.register_file.columns import COLUMNS, LAST_INSPECTED, Column, ColumnKind
from fleet.register_file.kinds import (
    CERTIFICATE_POINTS,
    COMPONENTS,
    EARLIER,
    INSTRUMENTS,
    KINDS,
    MACHINES,
    FileKind,
)
from fleet.register_file.mapping import MappedColumn, digest_of
from fleet.register_file.meanings import Meanings
from fleet.register_file.parsing import ParsedFile, ParsedRow, has_inspections, parse_register
from fleet.register_file.problems import Problem, Question, Unreadable
from fleet.register_file.settings import DATE_ORDERS, DELIMITERS, ENCODINGS, MAX_BYTES, MAX_ROWS, Settings
from fleet.register_file.workbook import unpacked_bytes
from fleet.register_file.writing import csv_text, problem_lines, register_text, register_workbook, xlsx_bytes

__all__ = [
    "COLUMNS",
    "CERTIFICATE_POINTS",
    "COMPONENTS",
    "DATE_ORDERS",
    "DELIMITERS",
    "EARLIER",
    "ENCODINGS",
    "INSTRUMENTS",
    "KINDS",
    "LAST_INSPECTED",
    "MACHINES",
    "MAX_BYTES",
    "MAX_ROWS",
    "Column",
    "ColumnKind",
    "FileKind",
    "MappedColumn",
    "Meanings",
    "ParsedFile",
    "ParsedRow",
    "Problem",
    "Question",
    "Settings",
    "Unreadable",
    "csv_text",
    "digest_of",
    "has_inspections",
    "parse_register",
    "problem_lines",
    "register_text",
    "register_workbook",
    "unpacked_bytes",
    "xlsx_bytes",
]
