"""A person's instruments of the day: chosen on a page of their own, or by the code of one on a bench page."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.web.at_site import show_as_site
from fleet.web.page_part import wants_part
from fleet.web.sent_numbers import sent_number
from inspections.actions import add_to_test_set, choose_test_set
from inspections.at_bench.entry import StepEntry
from inspections.at_bench.instrument_choice import instruments_at
from inspections.at_bench.test_set import find_code, latest_set
from inspections.errors import InstrumentRefused
from inspections.forms.test_set import InstrumentsOfDayForm
from inspections.models import InspectionStep
from inspections.views.at_site import render_at_site, visible_inspection

may_enter = permission_required("inspections.enter_reading", raise_exception=True)


@may_enter
@require_http_methods(["GET", "POST"])
def test_set(request, pk):
    """Choose the instruments of the day at the site of an inspection, and go back to where one came from."""
    inspection = visible_inspection(request, pk)
    site, at = inspection.machine.site, timezone.now()
    day = site.date_of(at)
    asked = request.POST.get("step") or request.GET.get("step", "")
    step = inspection.steps.filter(pk=sent_number(asked)).first()
    back = step.get_absolute_url() if step else _start(inspection)
    choices = instruments_at(site, day, person=request.user)
    chosen = latest_set(request.user, site, day)
    form = InstrumentsOfDayForm(request.POST or None, choices=choices, chosen=chosen)
    if request.method == "POST":
        form = InstrumentsOfDayForm(request.POST, choices=choices, chosen=chosen)
        if form.is_valid():
            choose_test_set(form.chosen, site=site, day=day, by=request.user)
            return redirect(back)
    context = {"inspection": inspection, "machine": inspection.machine, "form": form, "day": day}
    context |= {"back": back, "back_step": step.pk if step else ""}
    return render_at_site(request, site, "inspections/test_set.html", context, status=422 if form.errors else 200)


def _start(inspection):
    return reverse("inspections:bench" if inspection.is_in_progress else "inspections:open", args=[inspection.pk])


@may_enter
@require_POST
def instrument_select(request, pk):
    """Add the instrument whose code was scanned to the test set, and answer with what the fields start with since."""
    step = get_object_or_404(InspectionStep.objects.visible_to(request.user).with_machine(), pk=pk)
    site, at = step.inspection.machine.site, timezone.now()
    show_as_site(site)
    day, code = site.date_of(at), " ".join(request.POST.get("code", "").split())
    choice, error = find_code(instruments_at(site, day, person=request.user), code), ""
    if choice is None:
        error = f"No instrument at this site has the code “{code[:40]}”. Check the label, or choose from the list."
    else:
        try:
            add_to_test_set(choice, site=site, day=day, by=request.user)
        except InstrumentRefused as refusal:
            error = str(refusal)
    if not wants_part(request):
        (messages.error if error else messages.success)(request, error or f"{choice.code} is in your test set.")
        return redirect(step)
    return answer_with_set(request, step, error=error, said="" if error else f"{choice.code} is in your test set.")


def answer_with_set(request, step, *, error="", said=""):
    """The head's line of the test set, with what a code did and what each empty field starts with since."""
    site = step.inspection.machine.site
    entry = StepEntry(step, instruments_at(site, site.date_of(timezone.now()), person=request.user))
    context = {"step": step, "entry": entry, "instrument_error": error, "said": said}
    context["proposals"] = [] if error else entry.proposals()
    response = render_at_site(request, site, "inspections/_test_set.html", context, status=422 if error else 200)
    response["Bench-Answer"] = "refused" if error else "kept"
    return response
