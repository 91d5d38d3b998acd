"""The cover report: page and exports."""

from django.contrib.auth.decorators import permission_required
from django.core.paginator import Paginator
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from fleet.actions import request_job
from fleet.cover_report import build_report, machine_rows, select_machines, shortlists
from fleet.cover_report.export import EXPORTS
from fleet.cover_report.form import CoverForm
from fleet.cover_report.job import COVER_EXPORT, MOST_AT_ONCE
from fleet.cover_report.paper import CAUTIONS
from fleet.cover_report.queries import Unneeded
from fleet.export.download import file_response
from fleet.extensions import cover_links
from fleet.web.query_values import page_asked

ROWS = 40


@require_GET
@permission_required("fleet.view_machine", raise_exception=True)
def cover(request):
    """Show the matrix of machines and safety features with its totals."""
    form = _form(request)
    wanted = form.wanted()
    unneeded = Unneeded()
    machines = select_machines(wanted, request.user, unneeded)
    report = build_report(machines, wanted, unneeded)
    paginator = Paginator(machines.with_place(), ROWS)
    paginator.count = report.machines
    page = page_asked(request, paginator, ROWS)
    context = {
        "form": form,
        "wanted": wanted,
        "report": report,
        "page": page,
        "rows": list(machine_rows(page.object_list, wanted)),
        "shortlists": [(each, each.matches(wanted)) for each in shortlists(request.user, wanted.today, unneeded)],
        "formats": list(EXPORTS),
        "cautions": CAUTIONS,
        "links": cover_links(request),
    }
    return render(request, "fleet/cover.html", context)


@require_GET
@permission_required(("fleet.view_machine", "fleet.export_register"), raise_exception=True)
def cover_export(request, fmt):
    """Send the whole report, all machines of the filter, as a file."""
    if fmt not in EXPORTS:
        raise Http404(f"The cover report is not available as “{fmt}”. Accepted: {', '.join(EXPORTS)}.")
    form = _form(request)
    wanted = form.wanted()
    unneeded = Unneeded()
    machines = select_machines(wanted, request.user, unneeded)
    if machines.count() > MOST_AT_ONCE:
        return redirect(_in_the_background(request, fmt))
    report = build_report(machines, wanted, unneeded)
    made = f"Made for {request.user}"
    return file_response(f"cover-{wanted.on}.{fmt}", EXPORTS[fmt](report, machines.with_place(), made))


def _in_the_background(request, fmt):
    """Request the job that writes the file of a large fleet; a second request while it runs returns the same job."""
    query = request.GET.copy()
    query.setdefault("on", timezone.localdate().isoformat())
    params = {"fmt": fmt, "query": query.urlencode()}
    title = f"Cover report as {fmt.upper()}"
    return request_job(COVER_EXPORT, title=title, params=params, by=request.user, at=timezone.now())


def _form(request):
    return CoverForm(request.GET, person=request.user, today=timezone.localdate())
