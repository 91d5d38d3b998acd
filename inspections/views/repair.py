"""The repair part of the bench page: a component replaced, and a step tested again as left."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST
from django.views.decorators.vary import vary_on_headers

from fleet.web.at_site import show_as_site
from fleet.web.page_part import wants_part
from fleet.web.sent_numbers import sent_number
from inspections.actions import (
    begin_all_called_for,
    begin_as_left,
    change_replacement,
    record_replacement,
    undo_as_left,
    withdraw_replacement,
)
from inspections.at_bench.progress import progress_of
from inspections.at_bench.replaceable import replaceable_components
from inspections.errors import RecordFrozen, Refused
from inspections.forms.repair import AsLeftForm, ReplacementForm
from inspections.models import InspectionStep, Replacement
from inspections.views.at_site import render_at_site
from inspections.views.repair_panel import RepairPanel, corrected

PART = "inspections/_step_repair.html"
PAGE = "inspections/repair_refused.html"


def repair_address(view):
    """A POST of somebody who may enter readings; answers vary, as a script or a form asks."""
    guarded = permission_required("inspections.enter_reading", raise_exception=True)(require_POST(view))
    return vary_on_headers("HX-Request")(guarded)


may_replace = permission_required("fleet.add_component", raise_exception=True)


@repair_address
@may_replace
def replacement_enter(request, pk):
    """Enter a component of the machine as replaced at this step."""
    step = _step(request, pk)
    form = ReplacementForm(request.POST, components=replaceable_components(step, _today(step)), auto_id="replaced-%s")
    if not form.is_valid():
        return _answer(request, step, forms={"replacement": form})
    code = form.cleaned_data["component"]
    return _done(
        request, step, {"replacement": form}, lambda who: record_replacement(step, code, **form.details(), **who)
    )


@repair_address
@may_replace
def replacement_change(request, pk):
    replacement = _replacement(request, pk)
    step, form = _page_of(request, replacement), corrected(replacement, request.POST)
    forms = {f"replaced-{pk}": form}
    if not form.is_valid():
        return _answer(request, step, forms=forms)
    return _done(request, step, forms, lambda who: change_replacement(replacement, **form.details(), **who))


@repair_address
@may_replace
def replacement_withdraw(request, pk):
    replacement = _replacement(request, pk)
    step = _page_of(request, replacement)
    return _done(request, step, {}, lambda who: withdraw_replacement(replacement, **who))


@repair_address
def as_left_begin(request, pk):
    """Begin a set of readings as left, and go to it. What is entered already as replaced is no further work."""
    step, form = _step(request, pk), AsLeftForm(request.POST, auto_id="as-left-%s")
    if not form.is_valid():
        return _answer(request, step, forms={"as_left": form})
    work = {"work_done": form.cleaned_data["work_done"]}
    work["is_own_work"] = work["work_done"] != _panel(step).proposed
    return _done(request, step, {"as_left": form}, lambda who: begin_as_left(step, **work, **who), goes=True)


@repair_address
def as_left_all(request, pk):
    """Begin a set as left for every step that a repair calls for again, and go to the first of them."""
    step = _step(request, pk)

    def act(who):
        begun = begin_all_called_for(step.inspection, **who)
        return begun[0] if begun else step

    return _done(request, step, {}, act, goes=True)


@repair_address
def as_left_undo(request, pk):
    """Take back an empty set as left, and go to the set before it."""
    step = _step(request, pk)
    return _done(request, step, {}, lambda who: undo_as_left(step, **who), goes=True)


def _done(request, step, forms, act, *, goes=False):
    """Act, and show the part again, or go to the step that `act` returns; a refusal is shown with the form."""
    try:
        made = act({"by": request.user, "at": timezone.now()})
    except RecordFrozen as error:
        return _frozen(request, step, error)
    except Refused as error:
        return _answer(request, step, forms=forms, refused=str(error))
    return _go(request, made if goes else step) if goes or not wants_part(request) else _answer(request, step)


def _go(request, step):
    if not wants_part(request):
        return redirect(step)
    return _marked(HttpResponse(headers={"HX-Redirect": step.get_absolute_url()}), "kept")


def _answer(request, step, *, forms=None, refused=""):
    word = "refused" if forms or refused else "kept"
    panel = _panel(step, forms, refused)
    machine = step.inspection.machine
    context = {"step": step, "inspection": step.inspection, "machine": machine, "repair": panel}
    status = {"kept": 200, "refused": 422}[word]
    template = PART if wants_part(request) else PAGE
    return _marked(render_at_site(request, machine.site, template, context, status=status), word)


def _panel(step, forms=None, refused=""):
    evaluated = progress_of(step.inspection, shown=step).evaluated
    return RepairPanel(step, evaluated, _today(step), forms or {}, refused)


def _frozen(request, step, error):
    """Somebody signed or voided the inspection meanwhile."""
    messages.error(request, str(error))
    if not wants_part(request):
        return redirect(step.inspection)
    response = HttpResponse(status=409, headers={"HX-Redirect": step.inspection.get_absolute_url()})
    return _marked(response, "frozen")


def _marked(response, word):
    response["Bench-Answer"] = word
    return response


def _step(request, pk):
    steps = InspectionStep.objects.visible_to(request.user).with_machine().that_apply()
    step = get_object_or_404(steps, pk=pk)
    show_as_site(step.inspection.machine.site)
    return step


def _replacement(request, pk):
    visible = InspectionStep.objects.visible_to(request.user)
    related = ("step__inspection__machine__area__site", "component")
    return get_object_or_404(Replacement.objects.filter(step__in=visible).select_related(*related), pk=pk)


def _page_of(request, replacement):
    """The step whose page was open; by default that at which the component was replaced."""
    steps = InspectionStep.objects.filter(inspection=replacement.step.inspection_id)
    chosen = steps.filter(pk=sent_number(request.POST.get("at"))).first()
    return _step(request, (chosen or replacement.step).pk)


def _today(step):
    return step.inspection.machine.site.date_of(timezone.now())
