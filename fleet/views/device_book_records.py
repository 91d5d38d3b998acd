"""The page of a machine about its software and the people who were instructed on it."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.actions import instruct_users, record_software, withdraw_book_record
from fleet.errors import RegisterRefused
from fleet.forms.device_book_records import InstructionForm, SoftwareForm, WithdrawRecordForm
from fleet.machine_page.head import head_today
from fleet.models import SoftwareVersion, UserInstruction
from fleet.views.machines import visible_machine
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import page_asked

ROWS = 25
VERSIONS = 50
CHANGE = "fleet.add_component"
KINDS = {"software": SoftwareVersion, "instruction": UserInstruction}


@permission_required("fleet.view_machine", raise_exception=True)
@require_http_methods(FORM_METHODS)
def software_and_users(request, pk):
    """Show both records; `what` of the form says which of them is entered."""
    machine = visible_machine(request, pk)
    if request.method == "POST" and not request.user.has_perm(CHANGE):
        raise PermissionDenied
    today, what = machine.site.date_of(timezone.now()), request.POST.get("what")
    forms = {
        name: form(posted(request) if what == name else None, today=today, prefix=name)
        for name, form in (("software", SoftwareForm), ("instruction", InstructionForm))
    }
    is_sent = request.method == "POST" and what in forms and forms[what].is_valid()
    if is_sent and _saved(request, machine, what, forms[what]):
        return redirect("fleet:software_and_users", machine.pk)
    people = UserInstruction.objects.of_machine(machine).select_related("machine_model", "area__site", "machine", "by")
    versions = SoftwareVersion.objects.filter(machine=machine).select_related("machine", "by", "withdrawn_by")
    page = page_asked(request, people.select_related("withdrawn_by"), ROWS)
    context = {
        **head_today(machine, "Software and users"), "forms": forms, "versions": versions[:VERSIONS], "page": page,
        "people": [(one, one.has_ended(today)) for one in page], "may_change": request.user.has_perm(CHANGE),
    }  # fmt: skip
    return render(request, "fleet/software_and_users.html", context)


@permission_required(CHANGE, raise_exception=True)
@require_http_methods(FORM_METHODS)
def book_record_withdraw(request, pk, kind, row_pk):
    """Withdraw a row of one of the two records with a reason."""
    machine = visible_machine(request, pk)
    if kind not in KINDS:
        raise Http404
    row = get_object_or_404(KINDS[kind].objects.of_machine(machine).in_force(), pk=row_pk)
    form = WithdrawRecordForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            withdraw_book_record(row, reason=form.cleaned_data["reason"], by=request.user, at=timezone.now())
        except RegisterRefused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{row} is withdrawn.")
            return redirect("fleet:software_and_users", machine.pk)
    context = {**head_today(machine, "Software and users"), "form": form, "row": row}
    return render(request, "fleet/book_record_withdraw.html", context)


def _saved(request, machine, what, form):
    """Save what the form says; False with the reason on the form where it was refused."""
    who = {"by": request.user, "at": timezone.now()}
    try:
        if what == "software":
            said = str(record_software(machine, **form.cleaned_data, **who))
        else:
            data = dict(form.cleaned_data)
            said = f"Instruction of {len(instruct_users(machine, data.pop('names'), **data, **who))} people"
    except RegisterRefused as error:
        form.add_error(None, str(error))
        return False
    messages.success(request, f"{said} is recorded.")
    return True
