"""Drafts of procedures: begun, shown, their head written, proposed for approval, given up."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import number_asked
from inspections.actions import begin_draft, change_draft_head, change_not_tested, discard_draft, import_draft
from inspections.at_bench.step_content import on_which_machines, worded
from inspections.errors import DraftContested, Refused
from inspections.forms.procedure_drafts import (
    ApproveForm,
    CopyDraftForm,
    EmptyDraftForm,
    FileDraftForm,
    HeadForm,
    NotTestedForms,
    entries_of,
)
from inspections.models import ProcedureDraft
from inspections.procedure_editing.draft_checks import why_not_ready
from inspections.procedure_editing.feature_coverage import feature_coverage
from inspections.procedure_editing.field_words import head_words, test_title
from inspections.procedure_editing.step_edits import empty_procedure, head_of, order_of, token_of
from inspections.procedure_editing.written_form import written_form
from inspections.proposals import ApprovingProcedure
from inspections.views.deciding import REFUSED, decide_or_say
from inspections.views.grounds import grounds_context, shown_grounds, status_of

may_read = permission_required("inspections.view_procedure", raise_exception=True)
may_write = permission_required("inspections.change_procedure", raise_exception=True)
MOST_DRAFTS = 100


def find_draft(pk):
    return get_object_or_404(ProcedureDraft.objects.with_people(), pk=pk)


def carried_out(form, act):
    """Carry an edit out as this person, now. Return whether it was done; else the form says why not."""
    try:
        act()
    except Refused as error:
        form.add_error(None, str(error))
        form.is_contested = isinstance(error, DraftContested)
        return False
    return True


def status_of_edit(form):
    """409 where somebody else changed the same piece meanwhile, 422 where the form was refused, else 200."""
    if getattr(form, "is_contested", False):
        return 409
    return 422 if form.is_bound else 200


def now_by(request):
    return {"by": request.user, "at": timezone.now()}


@may_write
@require_http_methods(FORM_METHODS)
def draft_add(request):
    """Begin a draft from nothing, from a copy of a version, or from a file."""
    copied = number_asked(request, "copy", None, high=10**7 - 1)
    kinds = {"empty": EmptyDraftForm, "copy": CopyDraftForm, "file": FileDraftForm}
    sent = next((name for name in kinds if f"begin-{name}" in request.POST), None)
    forms = {
        name: kind(
            *((request.POST, request.FILES) if name == sent else ()),
            initial={"version": copied} if name == "copy" else None,
        )
        for name, kind in kinds.items()
    }
    form = forms.get(sent)
    if form is not None and form.is_valid() and (draft := _begun(request, sent, form)):
        messages.success(request, f"{draft} is begun. Nobody follows it before another person approves it.")
        return redirect(draft)
    status = 422 if request.method == "POST" else 200
    return render(request, "inspections/procedure_draft_add.html", {"forms": forms}, status=status)


def _begun(request, sent, form):
    """The draft that the form asks for; None where it was refused and the form says why."""
    begin = {"empty": _from_nothing, "copy": _from_version, "file": _from_file}[sent]
    try:
        return begin(form.cleaned_data, **now_by(request))
    except Refused as error:
        form.add_error(None, str(error))
        return None


def _from_nothing(data, **who):
    return begin_draft(empty_procedure(data["code"], data["title"]), **who)


def _from_version(data, **who):
    version, code = data["version"], data["code"]
    content = written_form(version.content)
    if not code:
        return begin_draft(content, procedure=version.procedure, based_on=version, **who)
    return begin_draft({**content, "code": code, "title": data["title"]}, based_on=version, **who)


def _from_file(data, **who):
    return import_draft(data["text"], name=data["file"].name, **who)


@may_read
@require_safe
def draft(request, pk):
    """The draft with its steps in order, what it lacks, and what can be done with it."""
    found = find_draft(pk)
    proposals = found.proposals.select_related("proposed_by", "settled_by").order_by("-pk")[:MOST_DRAFTS]
    waiting = next((one for one in proposals if one.is_waiting), None)
    writers = [one.person for one in found.writers.select_related("person")]
    context = {
        "draft": found,
        "head": head_words(found.content),
        "steps": [_row(step) for step in found.content["step"]],
        "order": token_of(order_of(found.content)),
        "lacks": why_not_ready(found) if found.is_being_written else [],
        "coverage": feature_coverage(found.content),
        "waiting": waiting,
        "proposals": proposals,
        "writers": writers,
        "can_edit": found.is_being_written and not waiting and request.user.has_perm("inspections.change_procedure"),
    }
    return render(request, "inspections/procedure_draft.html", context)


def _row(step):
    return {"content": worded(step), "when": on_which_machines(step), "test": test_title(step["test"])}


@may_write
@require_http_methods(FORM_METHODS)
def draft_head(request, pk):
    found = find_draft(pk)
    form = HeadForm(posted(request), initial=HeadForm.initial_of(found.content))
    if form.is_bound and form.is_valid():
        seen = request.POST.get("seen", "")
        if carried_out(form, lambda: change_draft_head(found, form.head, seen=seen, **now_by(request))):
            messages.success(request, "The head of the procedure is saved.")
            return redirect(found)
        found.refresh_from_db()
    context = {"draft": found, "form": form, "seen": token_of(head_of(found.content))}
    if getattr(form, "is_contested", False):
        context["stored"] = head_words(found.content)
    return render(request, "inspections/procedure_draft_head.html", context, status=status_of_edit(form))


@may_write
@require_http_methods(FORM_METHODS)
def draft_not_tested(request, pk):
    found = find_draft(pk)
    entries = found.content.get("not_tested_here", [])
    forms = NotTestedForms(posted(request), prefix="entry", initial=entries)
    error = ""
    if forms.is_bound and forms.is_valid():
        try:
            change_not_tested(found, entries_of(forms), seen=request.POST.get("seen", ""), **now_by(request))
            messages.success(request, "Saved: what the procedure does not test.")
            return redirect(found)
        except Refused as refused:
            error = str(refused)
            found.refresh_from_db()
    entries = found.content.get("not_tested_here", [])
    context = {"draft": found, "forms": forms, "error": error, "seen": token_of(entries)}
    context["unnamed"] = feature_coverage(found.content).unnamed
    return render(
        request, "inspections/procedure_draft_not_tested.html", context, status=422 if forms.is_bound else 200
    )


@may_write
@require_http_methods(FORM_METHODS)
def draft_approve(request, pk):
    """Propose a draft for approval: another person, who did not write in it, confirms."""
    found = find_draft(pk)
    form = ApproveForm(posted(request), request=request, initial={"from_date": timezone.localdate()})
    about, context = f"approve draft {pk}", {"draft": found}
    day = form.cleaned_data["from_date"] if form.is_bound and form.is_valid() else None
    act = ApprovingProcedure(found, from_date=day or timezone.localdate())
    if day:
        shown = shown_grounds(request, about)
        proposal = decide_or_say(request, form, act, reason=form.cleaned_data["reason"], shown=shown)
        if proposal is not REFUSED:
            return redirect(proposal)
        found.refresh_from_db()
    context |= {"form": form, "lacks": why_not_ready(found), **grounds_context(request, about, act.grounds())}
    return render(request, "inspections/procedure_draft_approve.html", context, status=status_of(context, form))


@may_write
@require_POST
def draft_discard(request, pk):
    found = find_draft(pk)
    try:
        discard_draft(found, **now_by(request))
    except Refused as error:
        messages.error(request, str(error))
        return redirect(found)
    messages.success(request, f"{found} is discarded. It stays readable.")
    return redirect("inspections:procedures")
