"""From a stored file to its parsed rows and its plan."""

from dataclasses import replace
from functools import partial

from fleet.confined import AT_ONCE, Busy, Exceeded, run_confined
from fleet.errors import FileRefused
from fleet.imports.importers import importer_of
from fleet.imports.meanings import meanings_of
from fleet.imports.plan import ImportPlan
from fleet.models import ColumnMapping
from fleet.register_file import ParsedFile, Settings, Unreadable, digest_of
from fleet.register_file.cells import text_of
from fleet.work_progress import tell_nobody

PARSER = "fleet.register_file.confined_reading:parse_apart"
SMALLER = (
    "a smaller table: at most 10,000 rows, with only the columns of a register. Copy the table into a new workbook, "
    "or save it as CSV."
)


def parse_upload(data, kind, settings=None, tell=tell_nobody, limits=AT_ONCE) -> ParsedFile:
    """Parse a file in a separate process, with the columns chosen for the last file with the same headers.

    Exceeding the limits is a problem of the file. Raises FileRefused while too many files are being read.
    """

    answers = {"tell": tell, "meanings": partial(meanings_of, kind), "recall": partial(remembered_columns, kind)}

    def answer(about, *question):
        return answers[about](*question)

    def pulse():
        tell(0, 0, "Reading the file")

    try:
        return run_confined(
            PARSER, bytes(data), kind.code, settings or Settings(), limits=limits, answer=answer, pulse=pulse
        )
    except Busy:
        raise FileRefused("Other files are being read at the moment. Send the file again shortly.") from None
    except Exceeded as exceeded:
        return ParsedFile(kind, problems=(Unreadable(str(exceeded), SMALLER).problem,))


def remembered_columns(kind, labels):
    """Return label -> column as last chosen for this set of headers, or nothing."""
    found = ColumnMapping.objects.filter(kind=kind.code, digest=digest_of(labels)).first()
    return found.columns if found else {}


def plan_import(parsed: ParsedFile, scope, tell=tell_nobody) -> ImportPlan:
    """Compare a parsed file with the stored records. The plan of an unreadable file holds only its problems."""
    if not parsed.rows:
        return ImportPlan(parsed.kind, problems=list(parsed.problems))
    return importer_of(parsed.kind).plan(parsed, replace(scope, meanings=meanings_of(parsed.kind)), tell)


def plan_good_rows(parsed: ParsedFile, scope, tell=tell_nobody) -> ImportPlan:
    """Return the plan of the rows without a problem; the others wait, with every row that names the same record.

    A file without a good row, or with a problem of the file as a whole, has the plan of `plan_import`.
    """
    plan = good = plan_import(parsed, scope, tell)
    problems, keys = list(plan.problems), {}
    while good.problems:
        bad = {found.row for found in problems}
        if 0 in bad:
            return plan
        sign = parsed.kind.sign
        records = {row.values[sign] for row in parsed.rows if row.number in bad}
        keys = dict.fromkeys(bad, "") | {
            row.number: key_text(parsed.kind, row.values) for row in parsed.rows if row.values[sign] in records
        }
        rows = tuple(row for row in parsed.rows if row.number not in keys)
        if not rows:
            return plan
        good = plan_import(replace(parsed, rows=rows, problems=()), scope, tell)
        problems += good.problems
    good.waiting, good.waiting_problems = keys, sorted(problems, key=lambda found: found.row)
    good.keys = [key_text(parsed.kind, row.values) for row in parsed.rows if row.number not in keys]
    return good


def key_text(kind, values):
    """Return what identifies a row of its kind, as one text, as it is written."""
    parts = (" ".join(text_of(values.get(name, "")).split()) for name in kind.key)
    return " | ".join(parts).rstrip(" |")[:300]
