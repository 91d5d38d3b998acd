"""The steps of a draft: added, written, moved and removed. Everything works by keyboard and without a script."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from fleet.web.form_methods import FORM_METHODS, posted
from inspections.actions import add_draft_steps, change_draft_step, move_draft_step, remove_draft_step
from inspections.at_bench.procedure_files import read_shared_steps
from inspections.errors import ProcedureError, Refused
from inspections.forms.procedure_steps import AddSharedForm, AddTestForm, StepForm, limit_forms, limits_of
from inspections.procedure_editing.comparison import differences_of_steps
from inspections.procedure_editing.draft_checks import why_step_fails
from inspections.procedure_editing.field_words import test_title
from inspections.procedure_editing.step_edits import (
    DOWN,
    UP,
    find_step,
    free_code,
    new_step,
    order_of,
    shared_step,
    token_of,
)
from inspections.views.procedure_drafts import carried_out, find_draft, may_write, now_by, status_of_edit


@may_write
@require_http_methods(FORM_METHODS)
def draft_step_add(request, pk):
    """Add shared steps, or a step of a bench test."""
    found = find_draft(pk)
    shared = {code: step for code, step in read_shared_steps().items() if code not in order_of(found.content)}
    is_shared, is_own = "add-shared" in request.POST, "add-own" in request.POST
    forms = {
        "shared": AddSharedForm(request.POST if is_shared else None, content=found.content, shared=shared),
        "own": AddTestForm(request.POST if is_own else None, content=found.content),
    }
    form = forms["shared"] if is_shared else forms["own"] if is_own else None
    if form is not None and form.is_valid() and (added := _added(request, found, form)):
        messages.success(request, f"Added: {', '.join(step['title'] for step in added)}.")
        return redirect(_at_step(found, added[0]["code"]) if is_shared else _step_url(found, added[0]["code"]))
    context = {"draft": found, "forms": forms, "shared": shared}
    status = 422 if request.method == "POST" else 200
    return render(request, "inspections/procedure_step_add.html", context, status=status)


def _added(request, found, form):
    """The steps that the form asks for, added; None where it was refused and the form says why."""
    data, taken = form.cleaned_data, order_of(found.content)
    try:
        if "steps" in data:
            steps = [shared_step(code) for code in data["steps"]]
        else:
            code = data["code"] or free_code(data["test"], taken)
            steps = [new_step(data["test"], code=code, title=data["title"])]
    except ProcedureError as error:
        form.add_error(None, str(error))
        return None
    after = data["after"] or None
    return steps if carried_out(form, lambda: add_draft_steps(found, steps, after=after, **now_by(request))) else None


@may_write
@require_http_methods(FORM_METHODS)
def draft_step(request, pk, code):
    """Write one step with its limits."""
    found = find_draft(pk)
    step = find_step(found.content, code)
    if step is None:
        raise Http404(f"{found} has no step {code}.")
    form, limits = StepForm(posted(request), step=step), limit_forms(step, posted(request))
    context = {}
    if form.is_bound and form.is_valid() and limits.is_valid():
        written = _written(form, limits)
        seen = request.POST.get("seen", "")
        if carried_out(form, lambda: change_draft_step(found, code, written, seen=seen, **now_by(request))):
            messages.success(request, f"Saved: {written['title']}.")
            return redirect(_at_step(found, written["code"]))
        found.refresh_from_db()
        step = find_step(found.content, code) or step
        context["stored"] = differences_of_steps(step, written) if getattr(form, "is_contested", False) else ()
    context |= {"form": form, "limits": limits, **_about(found, step)}
    return render(request, "inspections/procedure_step.html", context, status=status_of_edit(form))


def _about(found, step):
    """What the page says of the step; it has no number where somebody removed it meanwhile."""
    numbers = {code: number for number, code in enumerate(order_of(found.content), start=1)}
    return {
        "draft": found,
        "code": step["code"],
        "number": numbers.get(step["code"]),
        "seen": token_of(step),
        "test": test_title(step["test"]),
        "lacks": why_step_fails(step),
    }


def _written(form, limits):
    written = {key: value for key, value in form.written.items() if key != "limit"}
    own = limits_of(limits)
    return written | ({"limit": own} if own else {})


@may_write
@require_POST
def draft_step_move(request, pk, code):
    """Move a step up or down, and return to it."""
    found = find_draft(pk)
    direction = next((one for one in (UP, DOWN) if one in request.POST), None)
    if direction is None:
        messages.error(request, "Nothing was moved: choose up or down.")
        return redirect(found)
    try:
        move_draft_step(found, code, direction, seen=request.POST.get("seen", ""), **now_by(request))
    except Refused as error:
        messages.error(request, str(error))
        return redirect(found)
    return redirect(_at_step(found, code))


@may_write
@require_POST
def draft_step_remove(request, pk, code):
    found = find_draft(pk)
    try:
        remove_draft_step(found, code, seen=request.POST.get("seen", ""), **now_by(request))
    except Refused as error:
        messages.error(request, str(error))
        return redirect(found)
    messages.success(request, f"Removed: step {code}. The changes of the draft hold what it said.")
    return redirect(found)


def _at_step(found, code):
    return f"{found.get_absolute_url()}#step-{code}"


def _step_url(found, code):
    return reverse("inspections:procedure_step", args=[found.pk, code])
