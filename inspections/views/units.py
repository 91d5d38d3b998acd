"""Choose the units of an inspection at the head of its bench pages."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.web.at_site import show_as_site
from fleet.web.page_part import wants_part
from inspections.actions import choose_units
from inspections.at_bench.bench_head import head_of
from inspections.at_bench.entry import StepEntry
from inspections.at_bench.instrument_choice import instruments_at
from inspections.at_bench.live_result import LiveStep
from inspections.at_bench.progress import step_progress
from inspections.errors import RecordFrozen, Refused
from inspections.forms.units import UnitsForm
from inspections.models import InspectionStep
from inspections.views.at_site import render_at_site


@permission_required("inspections.enter_reading", raise_exception=True)
@require_POST
def units_choose(request, pk):
    """Change the units of the inspection of a step, and answer with what that changes on the page of the step."""
    step = get_object_or_404(InspectionStep.objects.visible_to(request.user).with_machine(), pk=pk)
    site = step.inspection.machine.site
    show_as_site(site)
    at = timezone.now()
    form = UnitsForm(request.POST, here=head_of(step).units)
    error, answer = "", "kept"
    try:
        if form.is_valid():
            choose_units(step.inspection, form.chosen, by=request.user, at=at)
        else:
            error, answer = " ".join(sum(form.errors.values(), [])), "refused"
    except Refused as refusal:
        error, answer = str(refusal), "frozen" if isinstance(refusal, RecordFrozen) else "refused"
    if not wants_part(request):
        if error:
            messages.error(request, error)
        return redirect(step)
    entry = StepEntry(step, instruments_at(site, site.date_of(at), person=request.user))
    here = step_progress(step, list(entry.standing.values()))
    context = {"step": step, "entry": entry, "head": head_of(step), "live": LiveStep(step, here.step_result)}
    status = {"kept": 200, "refused": 422, "frozen": 409}[answer]
    context |= {"units_error": error, "units_kept": not error}
    response = render_at_site(request, site, "inspections/_units_answer.html", context, status=status)
    response["Bench-Answer"] = answer
    return response
