"""The changes of a record: who, when, before and after."""

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from fleet.changes import changes_of, tracked_record
from fleet.models import Person, Site
from fleet.web.at_site import show_as_site
from fleet.web.query_values import page_asked

ON_PAGE = 25


@require_safe
def changes(request, kind, pk):
    tracked = tracked_record(kind)
    if tracked is None:
        raise Http404(f"There is no kind of record “{kind}”.")
    if not request.user.has_perm(tracked.permission):
        raise PermissionDenied
    if kind == "person" and _is_deleted_account(pk, request.user):
        return _page(request, f"account {pk}, deleted since", "", kind, pk)
    record = get_object_or_404(_readable(tracked.model, request.user), pk=pk)
    address = record.get_absolute_url() if hasattr(record, "get_absolute_url") else ""
    if site := _site_of(record):
        show_as_site(site)
    return _page(request, _name(record), address, kind, pk)


def _page(request, name, address, kind, pk):
    page = page_asked(request, changes_of(kind, pk), ON_PAGE)
    context = {"record": name, "name": name, "page": page, "address": address}
    return render(request, "fleet/changes.html", context)


def _is_deleted_account(pk, reader):
    """Return whether it is a deleted account, whose changes only those who manage every account can read: its sites are
    deleted with it."""
    return not reader.site_ids and changes_of("person", pk).exists() and not Person.objects.filter(pk=pk).exists()


def _site_of(record):
    """Return the site whose time zone and formats the page of the record uses; None if it belongs to no site."""
    if isinstance(record, Site):
        return record
    holder = getattr(record, "machine", record)
    return getattr(holder, "site", None) or getattr(getattr(holder, "area", None), "site", None)


def _name(record):
    """Return a name such as “machine A-12”; only the record's text if that includes its kind."""
    kind, words = record._meta.verbose_name, str(record)
    return words if words.lower().startswith(kind) else f"{kind} {words}"


def _readable(model, person):
    rows = model._default_manager.all()
    return rows.visible_to(person) if hasattr(rows, "visible_to") else rows
