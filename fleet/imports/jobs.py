"""Large register files: read, imported and written in the background."""

import io

from django.urls import reverse
from django.utils import timezone

from fleet.confined import IN_BACKGROUND
from fleet.errors import RegisterRefused
from fleet.imports.importers import IMPORTERS
from fleet.imports.plan import Scope
from fleet.imports.uploads import check_upload, confirm_upload, plan_as_shown
from fleet.jobs import Result, job_kind
from fleet.models import RegisterUpload
from fleet.register_file import register_text, register_workbook, unpacked_bytes

CHECK, IMPORT, EXPORT = "register-check", "register-import", "register-export"
LARGE_BYTES = 200_000  # about a thousand machines; a larger file is read in the background
LARGE_UNPACKED = 5_000_000  # a workbook of LARGE_BYTES unpacks to less, unless it is hostile
LARGE_ROWS = 2_000
WRITERS = {"csv": lambda rows, kind: register_text(rows, kind).encode("utf-8-sig"), "xlsx": register_workbook}


@job_kind(CHECK, "Register file read", permission="fleet.import_register")
def check_file(run):
    """Read a stored file and compute its preview."""
    upload = _upload(run)
    today = timezone.localdate(run.started_at)
    snapshot = check_upload(upload, today=today, tell=run.progress, limits=IN_BACKGROUND)
    if snapshot["reading"]["questions"]:
        words, name = "It can be read in more than one way: choose how.", "fleet:import_reading"
    else:
        words, name = _found(snapshot), "fleet:import_preview"
    return Result(f"{upload.name}: {words}", link=reverse(name, args=[upload.pk]))


@job_kind(IMPORT, "Register import", permission="fleet.import_register")
def import_file(run):
    """Import a stored file as its preview showed it, in one transaction with the end of the job."""
    upload = _upload(run)
    today, fingerprint = timezone.localdate(run.started_at), run.params["fingerprint"]
    plan = plan_as_shown(upload, fingerprint, today=today, tell=run.progress, limits=IN_BACKGROUND)

    def finish():
        run.finish(Result(imported_words(upload, plan), link=reverse(after_import(upload))))

    confirm_upload(upload, plan, by=run.by, at=run.started_at, tell=run.progress, last=finish)


@job_kind(EXPORT, "Register as a file", permission="fleet.export_register")
def write_file(run):
    """Write all records of one kind that the person may see."""
    importer, fmt = IMPORTERS[run.params["kind"]], run.params["fmt"]
    scope = Scope.of(run.by, timezone.localdate(run.started_at))
    run.progress(0, 0, "Writing")
    rows = run.each(list(importer.rows(scope)), f"Writing {importer.kind.many}")
    return Result(
        f"All {importer.kind.many}.", io.BytesIO(WRITERS[fmt](rows, importer.kind)), f"{importer.kind.code}.{fmt}"
    )


def is_large(content):
    """Return whether a file is read in the background."""
    return len(content) > LARGE_BYTES or unpacked_bytes(bytes(content)) > LARGE_UNPACKED


def imported_words(upload, plan):
    told = (
        f"{upload.name} is imported: {len(plan.created)} {plan.kind.many} entered, {len(plan.updated)} corrected, "
        f"{plan.unchanged} unchanged."
    )
    if not plan.waiting:
        return told
    waiting = len(plan.waiting)
    return f"{told} {waiting} {'row waits' if waiting == 1 else 'rows wait'} to be mended."


def after_import(upload):
    """Return the name of the page that shows the imported records."""
    return "fleet:instruments" if upload.kind == "instruments" else "fleet:machines"


def _found(snapshot):
    counts = (len(snapshot["created"]), len(snapshot["updated"]), len(snapshot["problems"]))
    return "{:,} to enter, {:,} to correct, {:,} problems.".format(*counts)


def _upload(run):
    upload = RegisterUpload.objects.filter(pk=run.params["upload"], by=run.by, imported_at=None).first()
    if upload is None:
        raise RegisterRefused("The file is no longer stored: it was imported, or another file was uploaded later.")
    return upload
