"""Background jobs: what was requested, its progress and its result."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from fleet.actions import cancel_job, retry_job
from fleet.errors import Refused
from fleet.jobs import kind_label, may_ask
from fleet.models import Job
from fleet.tables.jobs import JobTable
from fleet.views.lists import TableList
from fleet.web.page_part import render_page_or_part


class JobList(TableList):
    """The person's own background jobs, newest first; a planner sees everybody's."""

    permission_required = ()
    table_class = JobTable
    template_name = "fleet/jobs.html"
    export_name = "jobs"

    def get_rows(self):
        return Job.objects.visible_to(self.request.user).select_related("by")


@require_safe
@never_cache
def job(request, pk):
    """Show one job; the page reloads the section with the progress while the job runs."""
    found = _visible(request, pk)
    context = {
        "job": found,
        "kind": kind_label(found.kind),
        "may_cancel": found.is_open and not found.is_stopping and _may_change(request.user, found),
        "may_retry": found.can_be_retried and found.by_id == request.user.pk and may_ask(request.user, found.kind),
        "may_fetch": bool(found.file) and _may_fetch(request.user, found),
        "is_left_waiting": found.is_left_waiting(timezone.now()),
    }
    return render_page_or_part(request, "fleet/job.html", "fleet/_job.html", context)


@require_POST
def job_cancel(request, pk):
    found = _visible(request, pk)
    if not _may_change(request.user, found):
        raise PermissionDenied
    try:
        cancel_job(found, by=request.user, at=timezone.now())
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect(found)


@require_POST
def job_retry(request, pk):
    """Request the same job again; only for the person who requested it and still may."""
    found = _visible(request, pk)
    if found.by_id != request.user.pk or not may_ask(request.user, found.kind):
        raise PermissionDenied
    try:
        return redirect(retry_job(found, by=request.user, at=timezone.now()))
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect(found)


@require_safe
def job_file(request, pk):
    """Send the file that a job made, to those who may see what is in it."""
    found = _visible(request, pk)
    if not _may_fetch(request.user, found):
        raise PermissionDenied
    try:
        content = found.file.open("rb") if found.file else None
    except FileNotFoundError:
        content = None
    if content is None:
        raise Http404("The file of this job has been deleted. Run the job again.")
    return FileResponse(content, as_attachment=True, filename=found.file_name)


def _visible(request, pk):
    return get_object_or_404(Job.objects.visible_to(request.user).select_related("by", "cancel_asked_by"), pk=pk)


def _may_change(person, found):
    return found.by_id == person.pk or person.has_perm("fleet.change_job")


def _may_fetch(person, found):
    """Return whether the person may download the file: the requester, or one of all sites who may request it."""
    return may_ask(person, found.kind) and (found.by_id == person.pk or not person.site_ids)
