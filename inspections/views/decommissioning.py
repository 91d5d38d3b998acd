"""The end of a machine: its checklist, the answer to one item, and all checklists that are open."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.machine_page.head import head_today
from fleet.models import Machine, MachineStatus
from fleet.views.machines import visible_machine
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import page_asked
from inspections.actions import answer_decommissioning_item
from inspections.attachments import accept_file, accepted_words
from inspections.decommissioning.checklist import ITEMS
from inspections.errors import Refused
from inspections.forms.decommissioning import ItemForm
from inspections.models import DecommissioningAnswer
from inspections.models.querysets.decommissioning import with_open_checklist

PER_PAGE = 25
CAUTIONS = (
    "Until it is cleaned and let down, the machine counts as contaminated and under pressure.",
    "Local rules for hygiene, waste and data come before this list.",
)
VIEW, CHANGE = (f"inspections.{verb}_decommissioninganswer" for verb in ("view", "change"))


@permission_required(VIEW, raise_exception=True)
@require_safe
def checklists(request):
    """Machines of which an item is still open: retired ones, and others whose checklist was begun."""
    machines = with_open_checklist(Machine.objects.with_place().visible_to(request.user))
    page = page_asked(request, machines.order_by("-retired_on", "asset_number"), PER_PAGE)
    return render(request, "inspections/decommissionings.html", {"page": page, "total": len(ITEMS)})


@permission_required(VIEW, raise_exception=True)
@require_safe
def checklist(request, pk):
    """Every item with its answer, the open ones first in sight."""
    machine = visible_machine(request, pk)
    answers = {one.code: one for one in DecommissioningAnswer.objects.filter(machine=machine).with_people()}
    lines = [(item, answers.get(code)) for code, item in ITEMS.items()]
    context = {
        **head_today(machine, "Decommissioning"), "lines": lines, "total": len(ITEMS), "cautions": CAUTIONS,
        "answered": sum(answer is not None for _, answer in lines),
        "may_answer": machine.status != MachineStatus.IN_SERVICE and request.user.has_perm(CHANGE),
    }  # fmt: skip
    return render(request, "inspections/decommissioning.html", context)


@permission_required(CHANGE, raise_exception=True)
@require_http_methods(FORM_METHODS)
def item(request, pk, code):
    """Answer one item, with a file as proof."""
    machine = visible_machine(request, pk)
    if code not in ITEMS:
        raise Http404(f"There is no item “{code}”.")
    stored = DecommissioningAnswer.objects.filter(machine=machine, code=code).with_people().first()
    form = ItemForm(
        posted(request), request.FILES or None, item=ITEMS[code], initial=_initial(stored),
        accepted_words=accepted_words(settings.ATTACHMENT_BYTES),
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        try:
            _answer(request, machine, code, form.cleaned_data)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"“{ITEMS[code].title}” is answered.")
            return redirect("inspections:decommissioning", machine.pk)
    context = {
        "machine": machine, "item": ITEMS[code], "answer": stored, "form": form,
        "is_in_service": machine.status == MachineStatus.IN_SERVICE,
        "cautions": [ITEMS[code].caution] if ITEMS[code].caution else [],
    }  # fmt: skip
    return render(request, "inspections/decommissioning_item.html", context)


def _initial(stored):
    if stored is None:
        return {}
    return {"state": stored.state, "route": stored.route, "words": stored.words, "seen": stored.at.isoformat()}


def _answer(request, machine, code, said):
    file = said.pop("file")
    accepted = accept_file(file, largest=settings.ATTACHMENT_BYTES) if file else None
    answer_decommissioning_item(machine, code, file=accepted, by=request.user, at=timezone.now(), **said)
