"""What values of files mean: answered for a file, listed, forgotten; and the rows of files that wait."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.db.models import Count, Min
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.errors import FileRefused, Refused
from fleet.export.download import file_response
from fleet.forms.value_answers import ValueAnswersForm
from fleet.imports.answering import answer_values, forget_meaning
from fleet.imports.value_questions import unanswerable
from fleet.imports.waiting import discard_waiting, read_waiting_again, waiting_lines
from fleet.models import RegisterUpload, ValueMeaning
from fleet.register_file import csv_text, xlsx_bytes
from fleet.tables.value_meanings import ValueMeaningTable
from fleet.views.lists import TableList
from fleet.views.register_import import checked, kept_upload
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import page_asked
from fleet.web.sent_numbers import sent_number

IMPORTS = "fleet.import_register"


@permission_required(IMPORTS, raise_exception=True)
@require_http_methods(FORM_METHODS)
def import_values(request, pk):
    """Ask once for each distinct value that the register does not know; then the file is read again."""
    upload = kept_upload(request, pk)
    if upload.snapshot is None or not upload.snapshot["is_planned"]:
        return redirect(upload)
    suggests = request.GET.get("suggest") == "yes"
    form = ValueAnswersForm(posted(request), upload=upload, person=request.user, suggests=suggests)
    if request.method == "POST" and form.is_valid():
        try:
            number = answer_values(upload, form.answers(), by=request.user, at=timezone.now())
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"{number} answers are saved, and the file was read again with them.")
            return checked(request, upload, only_open=True)
    context = {"upload": upload, "form": form, "plan": upload.snapshot, "others": unanswerable(upload.snapshot)}
    return render(request, "fleet/import_values.html", context)


class ValueMeaningList(TableList):
    permission_required = IMPORTS
    table_class = ValueMeaningTable
    export_name = "value-meanings"
    template_name = "fleet/value_meanings.html"

    def get_rows(self):
        return ValueMeaning.objects.visible_to(self.request.user).select_related("site", "by")


@permission_required(IMPORTS, raise_exception=True)
@require_http_methods(FORM_METHODS)
def value_meaning_forget(request, pk):
    meaning = get_object_or_404(ValueMeaning.objects.visible_to(request.user).select_related("site"), pk=pk)
    if request.method != "POST":
        return render(request, "fleet/value_meaning_forget.html", {"meaning": meaning})
    try:
        forget_meaning(meaning, by=request.user, at=timezone.now())
        messages.success(request, f"What “{meaning.written}” means is forgotten. The next file asks about it again.")
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("fleet:value_meanings")


@permission_required(IMPORTS, raise_exception=True)
@require_safe
def waiting_files(request):
    """Show the imported files of which rows wait."""
    files = _uploads(request).annotate(rows=Count("waiting"), since=Min("waiting__since")).select_related("by")
    return render(request, "fleet/waiting_files.html", {"page": page_asked(request, files.order_by("-since"), 25)})


@permission_required(IMPORTS, raise_exception=True)
@require_safe
def waiting_rows(request, pk):
    """Show the rows of one imported file that wait, each with its problems."""
    upload = _waiting(request, pk)
    page = page_asked(request, upload.waiting.order_by("number"), 50)
    return render(request, "fleet/waiting_rows.html", {"upload": upload, "kind": upload.file_kind, "page": page})


@permission_required(IMPORTS, raise_exception=True)
@require_POST
def waiting_again(request, pk):
    """Read the waiting rows again, with all that values mean by now."""
    upload = _waiting(request, pk)
    try:
        again = read_waiting_again(upload, by=request.user, at=timezone.now())
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("fleet:waiting_files")
    return checked(request, again, only_open=True)


@permission_required(IMPORTS, raise_exception=True)
@require_POST
def waiting_discard(request, pk):
    upload = _waiting(request, pk)
    number = sent_number(request.POST.get("number"))
    try:
        gone = discard_waiting(upload, number=number, by=request.user, at=timezone.now())
        messages.success(request, f"{gone} rows of {upload} are discarded. They are not in the register.")
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("fleet:waiting_rows", pk=upload.pk)
    return redirect("fleet:waiting_files")


@permission_required(IMPORTS, raise_exception=True)
@require_safe
def waiting_file(request, pk, fmt):
    """Send the waiting rows in the columns of their file, with the problems beside each."""
    upload = _waiting(request, pk)
    if fmt not in ("csv", "xlsx"):
        raise Http404
    try:
        header, lines = waiting_lines(upload)
    except FileRefused as refused:
        messages.error(request, str(refused))
        return redirect("fleet:waiting_rows", pk=upload.pk)
    if fmt == "csv":
        return file_response("waiting-rows.csv", csv_text(header, lines).encode("utf-8-sig"))
    return file_response("waiting-rows.xlsx", xlsx_bytes("Waiting rows", header, lines))


def _uploads(request):
    return RegisterUpload.objects.with_waiting_rows(request.user)


def _waiting(request, pk):
    return get_object_or_404(_uploads(request), pk=pk)
