"""Records that prove themselves: the chains and their seals, verification, and checking a printed record."""

from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from fleet.errors import FileRefused
from fleet.export.download import file_response
from fleet.models import Job, Site
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import page_asked
from inspections.chain.journal import journal_head
from inspections.chain.seals import seals_of
from inspections.forms.proof import PaperForm, SealForm
from inspections.jobs.verification import VERIFICATION, request_verification
from inspections.models import ChainHead, Inspection
from inspections.reports.checking import check_paper

PER_PAGE = 50
LATEST = 5
may_read = permission_required("inspections.view_inspection", raise_exception=True)


@may_read
@require_http_methods(FORM_METHODS)
def verify(request):
    """The chains of the sites that the person may see; a POST asks for their verification."""
    form = SealForm(posted(request), request.FILES or None)
    if form.is_bound and form.is_valid():
        job = request_verification(seals=form.cleaned_data["seals"], by=request.user, at=timezone.now())
        return redirect(job)
    heads = ChainHead.objects.filter(site__in=Site.objects.visible_to(request.user)).select_related("site")
    page = page_asked(request, heads.order_by("site__name"), PER_PAGE)
    latest = Job.objects.filter(kind=VERIFICATION, by=request.user).order_by("-asked_at")[:LATEST]
    journal = None if request.user.site_ids else journal_head()
    context = {"form": form, "page": page, "heads": page.object_list, "latest": latest, "journal": journal}
    return render(request, "inspections/verify.html", context, status=422 if form.is_bound else 200)


@may_read
@require_GET
def seal(request):
    """Send the seals as a text file, for keeping elsewhere."""
    now = timezone.now()
    lines = [f"# Bobbin seals of {now.isoformat(timespec='seconds')}"]
    seals = seals_of(Site.objects.visible_to(request.user), with_journal=not request.user.site_ids)
    lines += [str(one) for one in seals]
    return file_response(f"bobbin-seal-{now:%Y-%m-%d-%H%M}.txt", "\n".join(lines) + "\n")


@may_read
@require_http_methods(FORM_METHODS)
def check_pdf(request):
    """Hold a printed record against the store."""
    form = PaperForm(posted(request), request.FILES or None)
    found = None
    if form.is_bound and form.is_valid():
        try:
            found = check_paper(form.cleaned_data["file"].read(), Inspection.objects.visible_to(request.user))
        except FileRefused as refused:
            form.add_error("file", str(refused))
    status = 422 if form.is_bound and not form.is_valid() else 200
    return render(request, "inspections/check_pdf.html", {"form": form, "found": found}, status=status)
