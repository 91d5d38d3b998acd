"""The technician's bench: open an inspection, enter readings, see at once what they mean."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpResponseBadRequest
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.web.at_site import show_as_site
from fleet.web.sent_numbers import sent_number
from inspections.actions import add_to_test_set, open_inspection, set_not_tested, settle_contest
from inspections.at_bench.bench_head import head_of
from inspections.at_bench.entry import StepEntry
from inspections.at_bench.field_names import names_of_step, sent_of_step
from inspections.at_bench.instrument_choice import instruments_at
from inspections.at_bench.known_steps import known_to
from inspections.at_bench.live_result import LiveStep
from inspections.at_bench.presence import others_at
from inspections.at_bench.progress import progress_of, step_progress
from inspections.at_bench.settled_field import settled_field
from inspections.at_bench.slots import find_named_slot
from inspections.at_bench.step_content import caution_line
from inspections.at_bench.step_notes import notes_of
from inspections.at_bench.test_set import named_in_place
from inspections.at_bench.typing_rules import typing_rules
from inspections.errors import InstrumentRefused, ReadingRefused, RecordFrozen, Refused
from inspections.forms.bench import NotTestedForm, OpenForm, read_entry, sent_instrument
from inspections.forms.units import form_at_start
from inspections.models import Inspection, InspectionStep, Reading
from inspections.views.at_site import render_at_site, visible_inspection, visible_step
from inspections.views.bench_answers import fragment, gone_on, is_from_script, locked, not_done
from inspections.views.bench_checks import check_answer, checks_page, keep_checks, shown_with
from inspections.views.device_requests import typed_on_device
from inspections.views.questions import answer_in_form
from inspections.views.repair_panel import RepairPanel
from inspections.views.step_form import apply_column_settings, keep_entry, keep_step, refusal, sentences

may_enter = permission_required("inspections.enter_reading", raise_exception=True)


@may_enter
@require_http_methods(["GET", "POST"])
def inspection_open(request, pk):
    """Ask for the conditions and start the inspection."""
    inspection = visible_inspection(request, pk)
    form = OpenForm(request.POST or None, site=inspection.machine.site)
    units = form_at_start(inspection, request.user, request.POST or None)
    if request.method == "POST" and form.is_valid() and units.is_valid():
        conditions = {**form.cleaned_data, "units": units.chosen}
        try:
            open_inspection(inspection, by=request.user, at=timezone.now(), **conditions)
            return redirect("inspections:bench", pk)
        except Refused as error:
            form.add_error(None, str(error))
    status = 422 if form.is_bound else 200
    context = {"inspection": inspection, "form": form, "units_form": units}
    return render(request, "inspections/open.html", context, status=status)


@may_enter
@require_safe
def bench(request, pk):
    """Go to the first step that still needs work."""
    inspection = visible_inspection(request, pk)
    if not inspection.is_in_progress:
        return redirect(inspection)
    return redirect(progress_of(inspection).first_open or inspection)


@may_enter
@require_http_methods(["GET", "POST"])
def bench_step(request, pk, step_pk, *, alone=False):
    """One step: what to do, its readings, and what they mean. A POST keeps the whole form.

    alone  shows a check on a page of its own, where its remark, photographs and repair are entered
    """
    step = get_object_or_404(_steps_for(request).filter(inspection=pk, applies=True), pk=step_pk)
    show_as_site(step.inspection.machine.site)
    if not step.inspection.is_in_progress:
        messages.warning(request, f"{step.inspection} is {step.inspection.stage_word}: its readings are locked.")
        return redirect(step.inspection)
    refused = {}
    if request.method == "POST":
        try:
            refused = _keep_form(request, step)
        except RecordFrozen as error:
            return locked(request, step, error)
        if not refused:
            return gone_on(request, _next_page(request, step))
        if is_from_script(request):
            return not_done(request, step, sentences(refused))
    if step.is_check and not alone:
        return checks_page(request, step, refused)
    context = _page(request, step, refused)
    return render_at_site(
        request, context["machine"].site, "inspections/bench.html", context, status=422 if refused else 200
    )


@may_enter
@require_POST
def reading_enter(request, pk):
    """Keep one reading and answer with what changed on the page."""
    step = visible_step(request.user, pk)
    show_as_site(step.inspection.machine.site)
    instruments = _instruments(request, step)
    try:
        slot = find_named_slot(step, request.POST.get("slot", ""))
    except ReadingRefused as error:
        return HttpResponseBadRequest(str(error), content_type="text/plain; charset=utf-8")
    sent = sent_of_step(request.POST, step.pk)
    named = named_in_place(instruments, slot, request.POST.get(slot.name, ""))
    if named:
        return _answer_to_code(request, step, slot, named)
    ambient, now = step.inspection.ambient_pa_abs, timezone.now()
    try:
        entry = read_entry(sent or request.POST, slot, instruments, ambient_pa_abs=ambient)
        typed_at = typed_on_device(request, step.inspection, now)
        kept = keep_entry(step, entry, by=request.user, at=now, typed_at=typed_at)
    except RecordFrozen as error:
        return _frozen(request, step, slot, error)
    except ReadingRefused as error:
        return _answer(request, step, slot, instruments, refused_by=error)
    answer = _answer(request, step, slot, instruments)
    answer["Bench-Seen"] = str(kept.pk) if kept else ""
    return answer


@may_enter
@require_safe
def bench_others(request, pk):
    """Who else is at work on this inspection, for the line that the bench asks for now and then."""
    inspection = get_object_or_404(Inspection.objects.visible_to(request.user), pk=pk)
    context = {"inspection": inspection, "others": others_at(inspection, request.user, timezone.now())}
    response = render(request, "inspections/_others.html", context)
    response["Bench-Answer"] = "others"
    return response


@may_enter
@require_POST
def not_tested(request, pk):
    """Say why a step is not tested, or take that back with `undo`."""
    step = get_object_or_404(_steps_for(request).filter(applies=True), pk=pk)
    form = NotTestedForm(request.POST)
    if "undo" not in request.POST and not form.is_valid():
        why = "State why this step is not tested, in up to 300 characters. The reason goes on the record."
        return not_done(request, step, why)
    reason = "" if "undo" in request.POST else form.cleaned_data["reason"]
    try:
        set_not_tested(step, reason=reason, by=request.user, at=timezone.now())
    except RecordFrozen as error:
        return locked(request, step, error)
    except Refused as error:
        return not_done(request, step, error)
    return gone_on(request, step if not reason else _next_page(request, step))


def _steps_for(request):
    return InspectionStep.objects.visible_to(request.user).with_machine()


def _today(step):
    return step.inspection.machine.site.date_of(timezone.now())


def _instruments(request, step):
    """What the site has, with the test set of the person."""
    return instruments_at(step.inspection.machine.site, _today(step), person=request.user)


def _keep_form(request, step):
    instruments = _instruments(request, step)
    who_and_when = {"by": request.user, "at": timezone.now()}
    if step.is_check:
        refused = keep_checks(step, request.POST, instruments, **who_and_when)
        _settle(request, shown_with(step), **who_and_when)
        return refused
    refused = keep_step(step, request.POST, instruments, **who_and_when)
    table = request.POST.get("apply", "")
    if table and not refused:
        refused = apply_column_settings(step, table, request.POST, instruments, **who_and_when)
    _settle(request, [step], **who_and_when)
    answer_in_form(request, step, **who_and_when)
    return refused


def _settle(request, steps, *, by, at):
    """What was chosen between two readings of one place: `stand` or `drop` names the one beside the current reading."""
    for button, stands in (("stand", True), ("drop", False)):
        contested = Reading.objects.filter(step__in=steps, pk=sent_number(request.POST.get(button))).first()
        if contested is None:
            continue
        try:
            settle_contest(contested, stands=stands, by=by, at=at)
        except RecordFrozen:
            raise
        except Refused as error:
            messages.error(request, str(error))


def _next_page(request, step):
    if request.POST.get("then") != "next":
        return step
    page = shown_with(step) if step.is_check and "page" in request.POST else [step]
    return page[-1].following() or reverse("inspections:sign", args=[step.inspection_id])


def _page(request, step, refused):
    instruments = _instruments(request, step)
    progress = progress_of(step.inspection, shown=step)
    entry = StepEntry(step, instruments, refused=refused, context=progress.context)
    here = progress.find(step.pk)
    return {
        "inspection": step.inspection,
        "machine": step.inspection.machine,
        "step": step,
        "test": entry.test,
        "entry": entry,
        "head": head_of(step, [item.step for item in progress.that_apply]),
        "progress": progress,
        "here": here,
        "live": LiveStep(step, here.step_result),
        "following": progress.after(step),
        "before": progress.before(step),
        "is_known": step.code in known_to(request.user, [step]),
        "caution_line": caution_line(step),
        "others": others_at(step.inspection, request.user, timezone.now()),
        "not_tested_form": NotTestedForm(auto_id="not-tested-%s"),
        "typing_rules": typing_rules(),
        "notes": notes_of(step),
        "marks": list(step.not_tested_marks.with_people()),
        "repair": RepairPanel(step, progress.evaluated, _today(step)),
    }


def _answer_to_code(request, step, slot, choice):
    """An instrument's code was typed or scanned into a place: take the instrument, and empty the field again."""
    try:
        add_to_test_set(choice, site=step.inspection.machine.site, day=_today(step), by=request.user)
    except InstrumentRefused as error:
        refused = ReadingRefused(str(error), slot.key)
        return _answer(request, step, slot, _instruments(request, step), refused_by=refused, named=choice)
    return _answer(request, step, slot, _instruments(request, step), named=choice)


def _answer(request, step, slot, instruments, *, refused_by=None, named=None):
    """The fragments that an entered or refused reading changes; `named` is the instrument that was scanned instead."""
    refused = {slot.key: refusal(refused_by, request.POST.get(slot.name, ""))} if refused_by else {}
    if sent_of_step(request.POST, step.pk):
        return check_answer(request, step, refused, refused_by)
    entry = StepEntry(step, instruments, refused=refused)
    here = step_progress(step, list(entry.standing.values()))
    context = {
        "step": step,
        "entry": entry,
        "place": entry.place(slot),
        "settled": settled_field(
            entry.place(slot), request.POST, sent_instrument(request.POST, slot), named=named, refused_by=refused_by
        ),
        "named": named,
        "here": here,
        "live": LiveStep(step, here.step_result),
    }
    return fragment(request, "inspections/_answer.html", context, refused_by)


def _frozen(request, step, slot, error):
    """Somebody signed or voided the inspection meanwhile: say so in place of the live panel."""
    names = names_of_step(step.pk, slot.names) if sent_of_step(request.POST, step.pk) else slot.names
    return fragment(request, "inspections/_frozen.html", {"step": step, "error": error, "place_id": names.id}, error)
