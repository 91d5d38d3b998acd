"""What changed on a record: who, when, before and after."""

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from fleet.changes import changes_of, tracked_record
from fleet.query_values import page_asked

ON_PAGE = 25


@require_safe
def changes(request, kind, pk):
    tracked = tracked_record(kind)
    if tracked is None:
        raise Http404(f"No record is called {kind}.")
    if not request.user.has_perm(tracked.permission):
        raise PermissionDenied
    record = get_object_or_404(_readable(tracked.model, request.user), pk=pk)
    page = page_asked(request, changes_of(kind, pk), ON_PAGE)
    address = record.get_absolute_url() if hasattr(record, "get_absolute_url") else ""
    context = {"record": record, "name": _name(record), "page": page, "address": address}
    return render(request, "fleet/changes.html", context)


def _name(record):
    """Such as “machine A-12”; a record that says itself what it is stands alone."""
    kind, words = record._meta.verbose_name, str(record)
    return words if words.lower().startswith(kind) else f"{kind} {words}"


def _readable(model, person):
    rows = model._default_manager.all()
    return rows.visible_to(person) if hasattr(rows, "visible_to") else rows
