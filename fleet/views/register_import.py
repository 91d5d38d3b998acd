"""Import a file: upload, choose how it is read, preview the changes, confirm."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions import request_job
from fleet.errors import FileRefused, PreviewOvertaken, Refused
from fleet.export.download import file_response
from fleet.forms.register_import import ReadingForm, RegisterFileForm
from fleet.imports.jobs import CHECK, IMPORT, after_import, imported_words, is_large
from fleet.imports.uploads import check_upload, confirm_upload, keep_upload, plan_as_shown, plan_upload, say_how_to_read
from fleet.imports.value_questions import questions_of
from fleet.models import RegisterUpload
from fleet.register_file import KINDS, Settings, csv_text, problem_lines, xlsx_bytes
from fleet.views.register_files import written
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import choice_asked, page_asked

LISTS = ("problems", "created", "updated")


@permission_required("fleet.import_register", raise_exception=True)
@require_http_methods(FORM_METHODS)
def import_register(request):
    files = request.FILES if request.method == "POST" else None
    form = RegisterFileForm(posted(request), files, initial={"kind": choice_asked(request, "kind", KINDS, "machines")})
    if request.method == "POST" and form.is_valid():
        file, kind = form.cleaned_data["file"], KINDS[form.cleaned_data["kind"]]
        upload = keep_upload(name=file.name, content=file.read(), kind=kind, by=request.user, at=timezone.now())
        return checked(request, upload)
    return render(request, "fleet/import_register.html", {"form": form, "kinds": KINDS.values()})


@permission_required("fleet.import_register", raise_exception=True)
@require_http_methods(FORM_METHODS)
def import_reading(request, pk):
    """Show how the file was read, and accept the person's choices."""
    upload = kept_upload(request, pk)
    if upload.snapshot is None or "form" not in upload.snapshot["reading"]:
        return redirect(upload)
    form = ReadingForm(posted(request), upload=upload)
    if request.method == "POST":
        if "again" in request.POST or form.has_new_shape():
            return _read(request, upload, Settings(**form.shape()), "fleet:import_reading")
        if form.is_valid():
            return _read(request, upload, form.settings(), "fleet:import_preview")
    context = {"upload": upload, "reading": upload.snapshot["reading"], "form": form}
    return render(request, "fleet/import_reading.html", context)


@permission_required("fleet.import_register", raise_exception=True)
@require_http_methods(FORM_METHODS)
def import_preview(request, pk):
    """Show what the file would change; on POST import it if the register has not changed since."""
    upload = kept_upload(request, pk)
    if upload.snapshot is None:
        messages.info(request, f"{upload.name} has not been read yet. See its page under Background jobs.")
        return redirect("fleet:jobs")
    if not upload.snapshot["is_planned"]:
        return redirect("fleet:import_reading", pk=upload.pk)
    if request.method == "POST":
        return _confirm(request, upload, request.POST.get("fingerprint", ""))
    return render(request, "fleet/import_preview.html", _preview(request, upload))


@permission_required("fleet.import_register", raise_exception=True)
@require_safe
def import_problems(request, pk, fmt):
    """Send the file as it was read, with the problems of each row beside it."""
    upload = kept_upload(request, pk)
    if fmt not in ("csv", "xlsx"):
        raise Http404
    try:
        parsed, plan = plan_upload(upload, today=timezone.localdate())
    except FileRefused as refused:
        messages.error(request, str(refused))
        return redirect(upload)
    header, lines = problem_lines(parsed.table, plan.all_problems if plan else parsed.problems)
    if fmt == "csv":
        return file_response("problems.csv", csv_text(header, lines).encode("utf-8-sig"))
    return file_response("problems.xlsx", xlsx_bytes("Problems", header, lines))


@permission_required("fleet.import_register", raise_exception=True)
@require_safe
def import_template(request, kind, fmt):
    if kind not in KINDS:
        raise Http404
    return written([], KINDS[kind], fmt, name=f"{kind}-template")


def kept_upload(request, pk):
    """Return the file of this person that is not imported yet, or answer that there is none."""
    return get_object_or_404(RegisterUpload, pk=pk, by=request.user, imported_at=None)


def _read(request, upload, settings, then):
    say_how_to_read(upload, settings, by=request.user, at=timezone.now())
    return checked(request, upload, then)


def checked(request, upload, then="fleet:import_preview", *, only_open=False):
    """Compute the preview, at once or in the background, and redirect to it, or to the questions of the file.

    only_open  whether questions that have an answer already are not shown again
    """
    if is_large(upload.content):
        return _check_later(request, upload)
    try:
        snapshot = check_upload(upload, today=timezone.localdate())
    except FileRefused:  # read it in the background
        return _check_later(request, upload)
    has_questions = any(question["open"] or not only_open for question in snapshot["reading"]["questions"])
    return redirect("fleet:import_reading" if has_questions else then, pk=upload.pk)


def _check_later(request, upload):
    return redirect(_request(request, upload, CHECK, f"Read {upload.name}"))


def _request(request, upload, kind, title, **params):
    params = {"upload": upload.pk, **params}
    return request_job(kind, title=title, params=params, by=request.user, at=timezone.now())


def _confirm(request, upload, fingerprint):
    if is_large(upload.content):
        return redirect(_request(request, upload, IMPORT, f"Import {upload.name}", fingerprint=fingerprint))
    try:
        plan = plan_as_shown(upload, fingerprint, today=timezone.localdate())
        confirm_upload(upload, plan, by=request.user, at=timezone.now())
    except PreviewOvertaken as overtaken:
        messages.warning(request, str(overtaken))
        return redirect(upload)
    except FileRefused as refused:
        messages.error(request, str(refused))
        return redirect(upload)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("fleet:import_register")
    messages.success(request, imported_words(upload, plan))
    if plan.waiting:
        return redirect("fleet:waiting_rows", pk=upload.rest_of_id or upload.pk)
    return redirect(after_import(upload))


def _preview(request, upload):
    snapshot = upload.snapshot
    shown = choice_asked(request, "show", LISTS) or next((name for name in LISTS if snapshot[name]), "created")
    left_out = [column["label"] for column in snapshot["reading"]["columns"] if not column["column"]]
    return {
        "upload": upload,
        "kind": upload.file_kind,
        "plan": snapshot,
        "left_out": left_out,
        "questions": len(questions_of(snapshot)),
        "shown": shown,
        "page": page_asked(request, snapshot[shown], 50),
    }
