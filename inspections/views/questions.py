"""Answer the questions that the bench asks about readings."""

import json

from django.contrib.auth.decorators import permission_required
from django.http import HttpResponseBadRequest
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.web.at_site import show_as_site
from inspections.actions import confirm_reading, enter_meant
from inspections.at_bench.entry import StepEntry
from inspections.at_bench.instrument_choice import instruments_at
from inspections.at_bench.live_result import LiveStep
from inspections.at_bench.progress import step_progress
from inspections.at_bench.slots import find_slot
from inspections.errors import QuestionSettled, RecordFrozen
from inspections.models import InspectionStep, ReadingQuestion
from inspections.views.at_site import render_at_site

RIGHT = "right"


@permission_required("inspections.enter_reading", raise_exception=True)
@require_POST
def question_answer(request, pk):
    """Answer one question, and return what that changes on the page.

    A question that was answered meanwhile is no error: the page is shown how things are now.
    """
    question = get_object_or_404(ReadingQuestion.objects.visible_to(request.user).with_readings(), pk=pk)
    step = InspectionStep.objects.with_machine().get(pk=question.reading.step_id)
    show_as_site(step.inspection.machine.site)
    answer = _chosen(question, request.POST.get("answer", ""))
    if answer is None:
        return HttpResponseBadRequest(
            "Choose one of the answers on the page.", content_type="text/plain; charset=utf-8"
        )
    try:
        _carry_out(question, answer, by=request.user, at=timezone.now())
    except QuestionSettled:
        pass
    except RecordFrozen as error:
        slot = find_slot(step, *question.reading.slot)
        context = {"step": step, "error": error, "place_id": slot.names.id}
        return _fragment(request, step, "inspections/_frozen.html", context, "frozen", status=409)
    return _answered(request, step, question)


def answer_in_form(request, step, *, by, at):
    """Carry out the answer that a whole form of the step holds, for a browser without scripts."""
    key = request.POST.get("answer", "").partition(":")[0]
    if not (key.isascii() and key.isdigit() and len(key) < 12):
        return
    question = ReadingQuestion.objects.of_step(step).with_readings().filter(pk=int(key)).first()
    answer = question and _chosen(question, request.POST["answer"])
    if answer is not None:
        try:
            _carry_out(question, answer, by=by, at=at)
        except QuestionSettled:
            return


def _chosen(question, text):
    """Return what was chosen: RIGHT, or the number of an alternative; None for anything else. Sent as “12:right”."""
    key, _, answer = text.partition(":")
    numbers = {str(number): number for number, _ in question.offers}
    return ({RIGHT: RIGHT} | numbers).get(answer) if key == str(question.pk) else None


def _carry_out(question, answer, *, by, at):
    if answer == RIGHT:
        confirm_reading(question, by=by, at=at)
    else:
        site = question.reading.step.inspection.machine.site
        enter_meant(question, answer, by=by, at=at, instruments=instruments_at(site, site.date_of(at), person=by))


def _answered(request, step, question):
    """The fragments that an answer changes, and in headers what the field has to show now."""
    site = step.inspection.machine.site
    entry = StepEntry(step, instruments_at(site, site.date_of(timezone.now())))
    place, here = (
        entry.place(find_slot(step, *question.reading.slot)),
        step_progress(step, list(entry.standing.values())),
    )
    context = {
        "step": step, "entry": entry, "place": place, "table": None, "here": here,
        "live": LiveStep(step, here.step_result),
    }  # fmt: skip
    response = _fragment(request, step, "inspections/_answer.html", context, "kept")
    shows = {"place": place.id, "value": place.value, "unit": place.settings.unit}
    response["Bench-Shows"] = json.dumps(shows)
    if place.reading:
        response["Bench-Seen"] = str(place.reading.pk)
    return response


def _fragment(request, step, template, context, answer, *, status=200):
    response = render_at_site(request, step.inspection.machine.site, template, context, status=status)
    response["Bench-Answer"] = answer
    return response
