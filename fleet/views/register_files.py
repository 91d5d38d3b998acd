"""The register as files that can be changed and imported again."""

from django.contrib.auth.decorators import permission_required
from django.http import Http404
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.actions import request_job
from fleet.export.download import file_response
from fleet.imports import IMPORTERS, Scope
from fleet.imports.jobs import EXPORT, LARGE_ROWS, WRITERS


@permission_required(["fleet.view_machine", "fleet.export_register"], raise_exception=True)
@require_safe
def register_export(request, kind, fmt):
    """Send all records of one kind; a large register is written in the background."""
    if kind not in IMPORTERS or fmt not in WRITERS:
        raise Http404
    importer, now = IMPORTERS[kind], timezone.now()
    scope = Scope.of(request.user, timezone.localdate(now))
    if scope.machines.count() > LARGE_ROWS:
        title = f"All {importer.kind.many} ({fmt.upper()})"
        return redirect(request_job(EXPORT, title=title, params={"kind": kind, "fmt": fmt}, by=request.user, at=now))
    return written(importer.rows(scope), importer.kind, fmt, name=kind)


def written(rows, kind, fmt, *, name):
    """Return rows as a download; raise Http404 for a format that is not written."""
    if fmt not in WRITERS:
        raise Http404
    return file_response(f"{name}.{fmt}", WRITERS[fmt](rows, kind))
