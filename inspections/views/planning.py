"""Plan, book and void one inspection."""

from datetime import datetime

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.views.machines import visible_machine
from fleet.web.at_site import day_words
from inspections.actions import book_inspection, plan_inspection, void_inspection
from inspections.at_bench.presence import bench_in_words
from inspections.concurrent_edits import NOT_TOLD
from inspections.errors import Refused
from inspections.forms.planning import PlanForm, VoidForm
from inspections.forms.work import BookingForm
from inspections.models import Inspection
from inspections.views.at_site import visible_inspection


@permission_required("inspections.plan_inspection", raise_exception=True)
@require_http_methods(["GET", "POST"])
def plan(request, pk):
    machine = visible_machine(request, pk)
    form = PlanForm(request.POST or None, initial={"due_on": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        try:
            inspection = plan_inspection(machine, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{inspection.procedure} of machine {machine} is planned.")
            return redirect("inspections:book", inspection.pk)
    open_work = Inspection.objects.open().filter(machine=machine).select_related("procedure", "technician")
    return render(request, "inspections/plan.html", {"form": form, "machine": machine, "open_work": open_work})


@permission_required("inspections.plan_inspection", raise_exception=True)
@require_http_methods(["GET", "POST"])
def book(request, pk):
    inspection = visible_inspection(request, pk)
    initial = {
        "technician": inspection.technician_id,
        "booked_on": inspection.booked_on,
        "seen": _booked_text(inspection),
    }
    form = BookingForm(request.POST or None, inspections=[inspection], initial=initial)
    if request.method == "POST" and (who := booked_for(request, inspection, form)):
        messages.success(request, f"Booked for {who['technician']} on {day_words(who['booked_on'])}.")
        return redirect(inspection)
    context = {"form": form, "inspection": inspection, "bench": bench_in_words(inspection)}
    return render(request, "inspections/book.html", context)


def booked_for(request, inspection, form):
    """Book as the form says. Return technician and day, None where it could not be; the form then says why."""
    if not form.is_valid():
        return None
    who = {name: form.cleaned_data[name] for name in ("technician", "booked_on")}
    try:
        book_inspection(inspection, by=request.user, at=timezone.now(), seen=_seen_of(form), **who)
    except Refused as error:
        inspection.refresh_from_db()
        form.add_error(None, str(error))
        form.data = form.data.copy()
        form.data["seen"] = _booked_text(inspection)
        return None
    return who


@permission_required("inspections.void_inspection", raise_exception=True)
@require_http_methods(["GET", "POST"])
def void(request, pk):
    inspection = visible_inspection(request, pk)
    form = VoidForm(request.POST or None, in_progress=inspection.is_in_progress)
    if request.method == "POST" and form.is_valid():
        try:
            void_inspection(inspection, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            inspection.refresh_from_db()
            form = VoidForm(request.POST, in_progress=inspection.is_in_progress)
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{inspection} is void. Its readings are still stored.")
            return redirect(inspection)
    context = {"form": form, "inspection": inspection, "bench": bench_in_words(inspection)}
    return render(request, "inspections/void.html", context)


def _booked_text(inspection):
    """When the inspection was last booked, as the form carries it; empty for never."""
    return inspection.booked_at.isoformat() if inspection.booked_at else ""


def _seen_of(form):
    """When it was last booked as the form showed it, None for never; NOT_TOLD for a form that does not say."""
    if "seen" not in form.data:
        return NOT_TOLD
    try:
        return datetime.fromisoformat(form.cleaned_data["seen"])
    except ValueError:
        return None
