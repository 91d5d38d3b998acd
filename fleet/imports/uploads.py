"""Store a register file, set how it is read, compute what it would change, and import it.

A row is whole or not in: a row with a problem waits, with every row of the same record (fleet/imports/waiting.py).
"""

from dataclasses import replace

from django.db import transaction

from fleet.acting.scope import acting, journal_actions
from fleet.confined import AT_ONCE
from fleet.errors import PreviewOvertaken, RegisterRefused
from fleet.extensions import tell_imported
from fleet.imports.importers import importer_of
from fleet.imports.plan import Scope
from fleet.imports.reading import parse_upload, plan_good_rows
from fleet.imports.snapshot import snapshot_of
from fleet.imports.waiting import let_rows_wait
from fleet.models import ColumnMapping, RegisterUpload
from fleet.register_file import MACHINES, digest_of
from fleet.work_progress import tell_nobody


def _nothing():
    """Do nothing."""


def import_register(plan, *, by, at, source, tell=tell_nobody, first=_nothing, last=_nothing):
    """Create and correct what an ImportPlan holds. Raise RegisterRefused when it has problems or is overtaken.

    Long imports are prepared in short transactions, hidden from everybody; one more transaction shows all rows or none.
    So this function is several actions, and must not be called within one.

    source  name of the file, which the status history and the evidence quote
    first, last  functions called at the beginning and the end of that transaction
    """
    if plan.problems:
        raise RegisterRefused(
            f"Nothing was imported from {source}: it has {len(plan.problems)} problems. Correct them first."
        )
    importer, details = importer_of(plan.kind), {"by": by, "at": at, "source": source, "tell": tell}
    prepared = importer.stage(plan, **details)
    try:
        with acting("import_register", by=by and by.pk, at=at), transaction.atomic():
            first()
            importer.apply(plan, **details, prepared=prepared)
            last()
    except BaseException:
        if prepared is not None:
            prepared.discard()
        raise


@transaction.atomic
def keep_upload(*, name, content, by, at, kind=MACHINES):
    """Store an uploaded file until it is confirmed; unconfirmed earlier files of the same person are removed."""
    RegisterUpload.objects.filter(by=by, imported_at=None).delete()
    return RegisterUpload.objects.create(name=name[-120:], kind=kind.code, content=content, by=by, uploaded_at=at)


@transaction.atomic
def say_how_to_read(upload, settings, *, by, at):
    """Store how a person wants a file to be read; the choice of columns also applies to the next file of its kind."""
    was = upload.read_settings
    settings = replace(settings, left_out=was.left_out, only=was.only)
    upload.settings, upload.snapshot = settings.as_json(), None
    upload.save(update_fields=["settings", "snapshot"])
    if settings.columns:
        ColumnMapping.objects.update_or_create(
            kind=upload.kind,
            digest=digest_of(list(settings.columns)),
            defaults={"columns": dict(settings.columns), "by": by, "said_at": at},
        )


def plan_upload(upload, *, today, tell=tell_nobody, limits=AT_ONCE):
    """Return the ParsedFile and the ImportPlan of a stored file's good rows; None for it while a question is open."""
    settings = upload.read_settings
    parsed = parse_upload(bytes(upload.content), upload.file_kind, settings, tell, limits)
    if parsed.open_questions:
        return parsed, None
    return parsed, plan_good_rows(parsed, Scope.of(upload.by, today, settings.counts_as or ""), tell)


def check_upload(upload, *, today, tell=tell_nobody, limits=AT_ONCE):
    """Compute what a stored file would change, store that as its snapshot, and return it."""
    parsed, plan = plan_upload(upload, today=today, tell=tell, limits=limits)
    upload.snapshot = snapshot_of(parsed, plan)
    upload.save(update_fields=["snapshot"])
    return upload.snapshot


def plan_as_shown(upload, fingerprint, *, today, tell=tell_nobody, limits=AT_ONCE):
    """Return the plan of a stored file if it is still the one that was shown.

    Raise PreviewOvertaken if the register has changed so that the plan differs; the new one becomes the preview.
    """
    parsed, plan = plan_upload(upload, today=today, tell=tell, limits=limits)
    if plan is None or not plan.is_ready or plan.fingerprint() != fingerprint:
        upload.snapshot = snapshot_of(parsed, plan)
        upload.save(update_fields=["snapshot"])
        raise PreviewOvertaken(
            "The register has changed since the preview. This is the new preview; nothing is imported yet."
        )
    return plan


def confirm_upload(upload, plan, *, by, at, tell=tell_nobody, last=_nothing):
    """Import a stored file once. Raise RegisterRefused if it was imported already.

    last  function called at the end of the transaction that shows what was imported
    """

    def mark():
        open_one = RegisterUpload.objects.filter(pk=upload.pk, imported_at=None)
        if not open_one.update(imported_at=at, snapshot=None):
            raise RegisterRefused(
                f"{upload.name} is already imported. Upload it again to compare it with the register."
            )
        let_rows_wait(upload, plan, at=at)

    def finish():
        last()
        tell_imported(by=by, at=at)

    import_register(plan, by=by, at=at, source=upload.name, tell=tell, first=mark, last=finish)


ACTIONS = ("check_upload", "confirm_upload", "import_register", "keep_upload", "say_how_to_read")
# Actions of an import journal by themselves: around them all would be one transaction, however long the file.
journal_actions(globals(), ACTIONS, but=("confirm_upload", "import_register"))
