"""From a kept file to what it says and what it would change."""

from fleet.imports.importers import importer_of
from fleet.imports.plan import ImportPlan
from fleet.models import ColumnMapping
from fleet.register_file import ParsedFile, Settings, digest_of, parse_register


def _quiet(done, total, words):
    """Nobody is told."""


def parse_upload(data, kind, settings=None, tell=_quiet) -> ParsedFile:
    """Parse a file with what was said of its columns the last time a file had the same headers."""

    def recall(labels):
        return remembered_columns(kind, labels)

    return parse_register(data, kind, settings or Settings(), recall=recall, tell=tell)


def remembered_columns(kind, labels):
    """Return label -> column as last said for this set of headers, or nothing."""
    found = ColumnMapping.objects.filter(kind=kind.code, digest=digest_of(labels)).first()
    return found.columns if found else {}


def plan_import(parsed: ParsedFile, scope, tell=_quiet) -> ImportPlan:
    """Compare a parsed file with what is there. A file that could not be read plans nothing but its problems."""
    if not parsed.rows:
        return ImportPlan(parsed.kind, problems=list(parsed.problems))
    return importer_of(parsed.kind).plan(parsed, scope, tell)
