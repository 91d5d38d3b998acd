"""Rows of imported files that had a problem: they wait, are read again, sent as a file, or discarded."""

from dataclasses import replace

from django.db import transaction
from django.db.models import Q
from django.db.models.functions import Lower

from fleet.acting.scope import journal_actions
from fleet.errors import RegisterRefused
from fleet.imports.reading import parse_upload
from fleet.models import RegisterUpload, WaitingRow
from fleet.register_file import Problem, problem_lines

AT_ONCE = 500
MOST_PROBLEMS = 20  # of one row that are stored


def let_rows_wait(upload, plan, *, at):
    """Store the rows of a plan that wait, and remove those that are imported now, within the caller's transaction."""
    source, by_row = upload.rest_of or upload, {}
    for found in plan.waiting_problems:
        by_row.setdefault(found.row, []).append([found.column, found.value, found.message, found.accepted])
    if upload.rest_of_id:
        source.waiting.exclude(number__in=list(plan.waiting)).delete()
    rows = [
        WaitingRow(upload=source, number=number, key=key, problems=by_row.get(number, [])[:MOST_PROBLEMS], since=at)
        for number, key in plan.waiting.items()
    ]
    WaitingRow.objects.bulk_create(
        rows,
        batch_size=AT_ONCE,
        update_conflicts=True,
        unique_fields=["upload", "number"],
        update_fields=["key", "problems"],
    )
    _remove_mended(upload, plan)


def _remove_mended(upload, plan):
    """Remove the rows of other files that this file has brought in: the same record, mended."""
    others = WaitingRow.objects.visible_to(upload.by).of_kind(upload.kind).exclude(key="")
    others = others.exclude(upload=upload.rest_of or upload).annotate(lower=Lower("key"))
    for start in range(0, len(plan.keys), AT_ONCE):
        keys = plan.keys[start : start + AT_ONCE]
        # Both spellings, because SQLite ignores case for ASCII only.
        others.filter(Q(key__in=keys) | Q(lower__in=[key.lower() for key in keys])).delete()


@transaction.atomic
def read_waiting_again(upload, *, by, at):
    """Store the waiting rows of an imported file as a file to be read. Raise RegisterRefused if none waits."""
    numbers = list(upload.waiting.order_by("number").values_list("number", flat=True))
    if not numbers:
        raise RegisterRefused(f"No row of {upload.name} waits any more: each is imported or discarded.")
    RegisterUpload.objects.filter(by=by, imported_at=None).delete()
    settings = replace(upload.read_settings, only=numbers, left_out=())
    return RegisterUpload.objects.create(
        name=upload.name,
        kind=upload.kind,
        content=upload.content,
        settings=settings.as_json(),
        by=by,
        uploaded_at=at,
        rest_of=upload,
    )


@transaction.atomic
def discard_waiting(upload, *, number, by, at):
    """Discard the waiting rows of a file. Raise RegisterRefused if there are not `number` of them any more."""
    gone, _ = upload.waiting.all().delete()
    if gone != number:
        raise RegisterRefused(f"{gone} rows of {upload.name} wait now, not {number}. Look at them again.")
    return gone


def waiting_lines(upload):
    """Return the header and the waiting rows of an imported file as they were written, with their problems."""
    rows = {row.number: row for row in upload.waiting.all()}
    table = parse_upload(bytes(upload.content), upload.file_kind, upload.read_settings).table
    kept = replace(table, rows=tuple(row for row in table.rows if row[0] in rows))
    problems = [Problem(number, *said) for number, row in rows.items() for said in row.problems]
    return problem_lines(kept, problems)


ACTIONS = ("discard_waiting", "read_waiting_again")
journal_actions(globals(), ACTIONS)
