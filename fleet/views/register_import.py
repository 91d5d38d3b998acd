"""Import a register file: upload, look at what it would change, confirm."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions import confirm_upload, keep_upload
from fleet.errors import Refused
from fleet.forms.register_import import RegisterFileForm
from fleet.http import FORM_METHODS, posted
from fleet.models import Area, Machine, RegisterUpload
from fleet.register_file import COLUMNS, parse_register, register_text
from fleet.register_plan import plan_import
from fleet.views.machines import register_file_response

LISTS = ("problems", "created", "updated")


@permission_required("fleet.import_register", raise_exception=True)
@require_http_methods(FORM_METHODS)
def import_register(request):
    form = RegisterFileForm(posted(request), request.FILES)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        return redirect(keep_upload(name=file.name, content=file.read(), by=request.user, at=timezone.now()))
    columns = [column for column in COLUMNS.values() if not column.is_feature]
    features = [column for column in COLUMNS.values() if column.is_feature]
    return render(request, "fleet/import_register.html", {"form": form, "columns": columns, "features": features})


@permission_required("fleet.import_register", raise_exception=True)
@require_http_methods(FORM_METHODS)
def import_preview(request, pk):
    """Show the plan; on POST carry it out if the register has not changed since it was shown."""
    upload = get_object_or_404(RegisterUpload, pk=pk, by=request.user, imported_at=None)
    plan = _plan(request.user, upload)
    if request.method == "POST":
        if request.POST.get("fingerprint") == plan.fingerprint() and plan.is_ready:
            return _confirm(request, upload, plan)
        messages.warning(
            request, "The register has changed since you looked. This is the new preview; nothing is imported yet."
        )
    return render(request, "fleet/import_preview.html", _preview(request, upload, plan))


@permission_required("fleet.import_register", raise_exception=True)
@require_safe
def import_template(request):
    return register_file_response("register-template.csv", register_text([]))


def _plan(person, upload):
    return plan_import(
        parse_register(bytes(upload.content)),
        machines=Machine.objects.visible_to(person),
        areas=Area.objects.visible_to(person),
        today=timezone.localdate(),
    )


def _confirm(request, upload, plan):
    try:
        confirm_upload(upload, plan, by=request.user, at=timezone.now())
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("fleet:import_register")
    messages.success(
        request,
        f"{upload.name} is imported: {len(plan.created)} machines entered, {len(plan.updated)} corrected, "
        f"{plan.unchanged} as they were.",
    )
    return redirect("fleet:machines")


def _preview(request, upload, plan):
    shown = request.GET.get("show")
    if shown not in LISTS:
        shown = next((name for name in LISTS if getattr(plan, name)), "created")
    return {
        "upload": upload,
        "plan": plan,
        "shown": shown,
        "page": Paginator(getattr(plan, shown), 50).get_page(request.GET.get("page")),
        "fingerprint": plan.fingerprint(),
    }
