"""The work of the separate process that reads a register file, or a file of an instrument (fleet/confined)."""

from fleet.register_file.kinds import KINDS
from fleet.register_file.parsing import ParsedFile, parse_register
from fleet.register_file.plain_rows import PlainRows, rows_or_problem
from fleet.register_file.problems import Problem
from fleet.register_file.settings import Settings


def parse_apart(data: bytes, code: str, settings: Settings, *, ask) -> ParsedFile:
    """Parse a file of the kind with this code.

    ask  calls the process that waits: ("recall", labels) returns the columns chosen last time; ("meanings",) what
         values mean; ("tell", done, total, text) reports progress
    """
    return parse_register(
        data,
        KINDS[code],
        settings,
        recall=lambda labels: ask("recall", labels),
        meanings=ask("meanings"),
        tell=lambda done, total, words: ask("tell", done, total, words),
    )


def rows_apart(data: bytes, *, ask) -> PlainRows | Problem:
    """Split a file of an instrument into rows of texts. Nothing is asked."""
    return rows_or_problem(data)
