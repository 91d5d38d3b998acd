"""From a stored file to its parsed rows and its plan."""

from fleet.confined import AT_ONCE, Busy, Exceeded, run_confined
from fleet.errors import FileRefused
from fleet.imports.importers import importer_of
from fleet.imports.plan import ImportPlan
from fleet.models import ColumnMapping
from fleet.register_file import ParsedFile, Settings, Unreadable, digest_of
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

    def answer(about, *question):
        return tell(*question) if about == "tell" else remembered_columns(kind, *question)

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
    return importer_of(parsed.kind).plan(parsed, scope, tell)
