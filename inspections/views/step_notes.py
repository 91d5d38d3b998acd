"""The remark and the photographs of a step, each saved by itself; without scripts by a form that leads back."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.photographs import PhotographRefused, PhotographsBusy, clean_photograph
from fleet.web.at_site import show_as_site
from fleet.web.page_part import wants_part
from inspections.actions import add_photograph, caption_photograph, remove_photograph, write_remark
from inspections.at_bench.step_notes import notes_of
from inspections.errors import RecordFrozen, RemarkContested
from inspections.forms.step_notes import CaptionForm, PhotographForm, RemarkForm
from inspections.models import InspectionStep, Photograph
from inspections.views.at_site import render_at_site

STATUS = {"kept": 200, "refused": 422, "frozen": 409}
AGAIN_S = 3
may_enter = permission_required("inspections.enter_reading", raise_exception=True)


@may_enter
@require_POST
def remark(request, pk):
    """Save the remark of a step."""
    step, form = _step(request, pk), RemarkForm(request.POST)
    typed = request.POST.get("remark", "")
    if not form.is_valid():
        return _remark_answer(request, step, "refused", typed=typed, refusal=_sentences(form))
    try:
        write_remark(step, form.cleaned_data["remark"], by=request.user, at=timezone.now(), seen=form.shown)
    except RemarkContested as error:
        return _remark_answer(request, step, "refused", typed=typed, contested=error.remark)
    except RecordFrozen as error:
        return _remark_answer(request, step, "frozen", typed=typed, refusal=str(error))
    return _remark_answer(request, step, "kept")


@may_enter
@require_POST
def photograph_add(request, pk):
    """Add a photograph to a step. A server that reads others at the moment answers 503, to be asked again."""
    step, form = _step(request, pk), PhotographForm(request.POST, request.FILES)
    if not form.is_valid():
        return _photographs_answer(request, step, "refused", _sentences(form))
    try:
        clean = clean_photograph(form.cleaned_data["photograph"])
        add_photograph(step, clean, caption=form.cleaned_data["caption"], by=request.user, at=timezone.now())
    except PhotographsBusy as error:
        return _busy(request, step, error)
    except PhotographRefused as error:
        return _photographs_answer(request, step, "refused", str(error))
    except RecordFrozen as error:
        return _photographs_answer(request, step, "frozen", str(error))
    return _photographs_answer(request, step, "kept")


@may_enter
@require_POST
def photograph_caption(request, pk):
    """Change what is said of a photograph."""
    photograph, form = _photograph(request, pk), CaptionForm(request.POST)
    if not form.is_valid():
        return _photographs_answer(request, photograph.step, "refused", _sentences(form))
    caption = form.cleaned_data["caption"]
    return _change(request, photograph, lambda **who: caption_photograph(photograph, caption, **who))


@may_enter
@require_POST
def photograph_remove(request, pk):
    """Delete the picture of a photograph."""
    photograph = _photograph(request, pk)
    return _change(request, photograph, lambda **who: remove_photograph(photograph, **who))


def _change(request, photograph, act):
    try:
        act(by=request.user, at=timezone.now())
    except RecordFrozen as error:
        return _photographs_answer(request, photograph.step, "frozen", str(error))
    return _photographs_answer(request, photograph.step, "kept")


def _step(request, pk):
    steps = InspectionStep.objects.visible_to(request.user).with_machine().that_apply()
    return _shown_there(get_object_or_404(steps, pk=pk))


def _photograph(request, pk):
    visible = Photograph.objects.visible_to(request.user).filter(step__isnull=False)
    photograph = get_object_or_404(visible, pk=pk)
    photograph.step = _step(request, photograph.step_id)
    return photograph


def _shown_there(step):
    show_as_site(step.inspection.machine.site)
    return step


def _sentences(form):
    return " ".join(sentence for sentences in form.errors.values() for sentence in sentences)


def _remark_answer(request, step, answer, **sent):
    return _answer(request, notes_of(step, **sent), "inspections/_remark_state.html", answer)


def _photographs_answer(request, step, answer, *refused):
    return _answer(request, notes_of(step, refused=list(refused)), "inspections/_photographs.html", answer)


def _answer(request, notes, fragment, answer):
    """The part of the page that changed; without scripts the step again, or a page with what was typed and why not."""
    if not wants_part(request):
        if answer == "kept":
            return redirect(notes.step)
        fragment = "inspections/step_notes.html"
    site = notes.step.inspection.machine.site
    context = {"notes": notes, "step": notes.step, "inspection": notes.step.inspection}
    context |= {"machine": notes.step.inspection.machine, "is_frozen": answer == "frozen"}
    response = render_at_site(request, site, fragment, context, status=409 if notes.contested else STATUS[answer])
    response["Bench-Answer"] = answer
    return response


def _busy(request, step, error):
    """Without `Bench-Answer`, so that the page sends the photograph again by itself."""
    if not wants_part(request):
        messages.error(request, str(error))
        return redirect(step)
    plain = "text/plain; charset=utf-8"
    return HttpResponse(str(error), status=503, content_type=plain, headers={"Retry-After": str(AGAIN_S)})
