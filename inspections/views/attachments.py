"""Attached files: those of one thing with the form, those of a machine, one of them, its download, its withdrawal."""

from csp.constants import NONE
from csp.decorators import csp
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_http_methods, require_safe

from fleet.export.download import file_response
from fleet.machine_page.head import head_today
from fleet.models import Calibration, Component, Machine
from fleet.views.machines import visible_machine
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import page_asked
from inspections.actions import attach_file, withdraw_attachment
from inspections.attachments import accept_file, accepted_words
from inspections.errors import Refused
from inspections.forms.attachments import AttachForm, WithdrawFileForm
from inspections.models import Attachment, Finding, Inspection, ProcedureVersion, SafetyNotice
from inspections.retention.rules import RULE_OF

PER_PAGE = 25
MOST_COMPONENTS = 200
VIEW, ADD, REMOVE = (f"inspections.{verb}_attachment" for verb in ("view", "add", "remove"))
# A file opened by itself is a page of its own: nothing in it may run, load or be framed.
FILE_POLICY = {"default-src": [NONE], "frame-ancestors": [NONE], "sandbox": True}
# What a file can be attached to: what the person may see of it, and its name in a sentence.
SUBJECTS = {
    "machine": (lambda person: Machine.objects.visible_to(person).with_place(), "machine"),
    "component": (
        lambda person: Component.objects.visible_to(person).select_related("machine__area__site"), "component",
    ),
    "calibration": (
        lambda person: Calibration.objects.visible_to(person).select_related("instrument__site"), "calibration",
    ),
    "finding": (lambda person: Finding.objects.visible_to(person).select_related("machine__area__site"), "finding"),
    "inspection": (
        lambda person: Inspection.objects.visible_to(person).select_related("machine__area__site", "procedure"),
        "inspection",
    ),
    "notice": (lambda person: SafetyNotice.objects.visible_to(person), "safety notice"),
    "version": (
        lambda person: ProcedureVersion.objects.select_related("procedure").defer("content"), "procedure",
    ),
}  # fmt: skip


@permission_required(VIEW, raise_exception=True)
@require_http_methods(FORM_METHODS)
def files(request, of, pk):
    """The files of one thing, withdrawn ones too, and the form that attaches one."""
    subject = visible_subject(request, of, pk)
    if request.method == "POST" and not request.user.has_perm(ADD):
        raise PermissionDenied
    form = AttachForm(posted(request), request.FILES or None, accepted_words=accepted_words(settings.ATTACHMENT_BYTES))
    if request.method == "POST" and form.is_valid():
        try:
            made = attached(request, form.cleaned_data["file"], form.cleaned_data["title"], **{of: subject})
        except Refused as refused:
            form.add_error("file", str(refused))
        else:
            messages.success(request, f"“{made}” is attached.")
            return redirect("inspections:files", of, pk)
    rows = Attachment.objects.filter(**{of: subject}).with_people().order_by("-pk")
    context = {
        "of": SUBJECTS[of][1], "subject": subject, "name": _name(of, subject), "address": _address(of, subject),
        "page": page_asked(request, rows, PER_PAGE), "form": form, "may_add": request.user.has_perm(ADD),
    }  # fmt: skip
    return render(request, "inspections/files.html", context)


@permission_required(VIEW, raise_exception=True)
@require_safe
def machine_files(request, pk):
    """All files of a machine and of its components, findings and inspections."""
    machine = visible_machine(request, pk)
    rows = Attachment.objects.of_machine(machine).with_subjects().with_people().order_by("-pk")
    components = Component.objects.in_place().filter(machine=machine).order_by("label")[:MOST_COMPONENTS]
    page = page_asked(request, rows, PER_PAGE)
    context = {**head_today(machine, "Files"), "page": page, "components": components}
    return render(request, "inspections/machine_files.html", {**context, "may_add": request.user.has_perm(ADD)})


@permission_required(VIEW, raise_exception=True)
@require_safe
def attachment(request, pk):
    """Who attached it, when, its digest, and whether the stored file still has that digest."""
    found = visible_attachment(request, pk, with_content=True)
    is_intact = found.has_content and Attachment.digest_of(found.content) == found.digest
    context = {
        "attachment": found, "is_intact": is_intact, "name": _name(found.of, found.subject),
        "address": _address(found.of, found.subject),
        "may_withdraw": found.is_in_place and request.user.has_perm(ADD),
        "may_remove": found.has_content and request.user.has_perm(REMOVE), "rule": RULE_OF[found.of],
    }  # fmt: skip
    return render(request, "inspections/attachment.html", context)


@permission_required(VIEW, raise_exception=True)
@require_safe
@csp(FILE_POLICY)
@cache_control(private=True, no_store=True)
def attachment_download(request, pk):
    """Send the file to be stored, under a name of ours. One that is not as it was attached is not sent."""
    found = visible_attachment(request, pk, with_content=True)
    if not found.has_content:
        raise Http404("The file was removed.")
    content = bytes(found.content)
    if Attachment.digest_of(content) != found.digest:
        messages.error(request, "The stored file is not the one that was attached. It is not sent.")
        return redirect(found)
    response = file_response(found.sent_as, content)
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    return response


@permission_required(ADD, raise_exception=True)
@require_http_methods(FORM_METHODS)
def attachment_withdraw(request, pk):
    found, form = visible_attachment(request, pk), WithdrawFileForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            withdraw_attachment(found, reason=form.cleaned_data["reason"], by=request.user, at=timezone.now())
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"“{found}” is withdrawn. Its file stays stored.")
            return redirect(found)
    return render(request, "inspections/attachment_withdraw.html", {"attachment": found, "form": form})


def attached(request, file, title, **subject):
    """Look into the uploaded file and attach it. Raise Refused."""
    accepted = accept_file(file, largest=settings.ATTACHMENT_BYTES)
    return attach_file(accepted, title=title, by=request.user, at=timezone.now(), **subject)


def visible_subject(request, of, pk):
    """Return what a file is attached to, and show the rest of the request as its site does."""
    if of not in SUBJECTS:
        raise Http404(f"Nothing of the kind “{of}” has files.")
    subject = get_object_or_404(SUBJECTS[of][0](request.user), pk=pk)
    if site := Attachment(**{of: subject}).site:
        show_as_site(site)
    return subject


def visible_attachment(request, pk, *, with_content=False):
    """Return an attached file, and show the rest of the request as its site does."""
    rows = Attachment.objects.visible_to(request.user).with_subjects().with_people()
    found = get_object_or_404(rows.with_content() if with_content else rows, pk=pk)
    if found.site:
        show_as_site(found.site)
    return found


def _name(of, subject):
    """A few words for what the file is attached to."""
    if of in ("component", "finding", "inspection"):
        return f"{subject}, machine {subject.machine}"
    return f"machine {subject}" if of == "machine" else str(subject)


def _address(of, subject):
    if of == "component":
        return reverse("fleet:machine_components", args=[subject.machine_id])
    return subject.get_absolute_url()
