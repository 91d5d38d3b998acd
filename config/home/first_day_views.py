"""The page of the first day, and what one press does there."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from config.home.first_day import first_steps
from fleet.actions import put_start_away, request_job, show_start_again
from fleet.models import Machine, StartPutAway
from inspections.actions import load_procedures, plan_due_inspections
from inspections.at_bench.procedure_files import DIRECTORY
from inspections.errors import ProcedureError
from inspections.jobs.planning import PLAN_DUE

AT_ONCE = 500  # machines of which the work is planned while the person waits


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def first_day(request):
    """Show every step of the first day, whether it is on Home or put away."""
    steps = first_steps(request.user, timezone.localdate())
    is_away = StartPutAway.objects.filter(person=request.user).exists()
    return render(request, "first_day.html", {"steps": steps, "is_away": is_away})


@permission_required("fleet.view_machine", raise_exception=True)
@require_POST
def first_day_put_away(request):
    put_start_away(request.user, at=timezone.now())
    messages.success(request, "The first day is put away. Help leads to it.")
    return redirect("home")


@permission_required("fleet.view_machine", raise_exception=True)
@require_POST
def first_day_show(request):
    show_start_again(request.user)
    return redirect("home")


@permission_required("inspections.plan_inspection", raise_exception=True)
@require_POST
def first_day_plan(request):
    """Plan what falls due, at once for a small register, and go on to level it. Safe to repeat."""
    today, now = timezone.localdate(), timezone.now()
    if Machine.objects.not_retired().count() > AT_ONCE:
        return redirect(request_job(PLAN_DUE, title="Plan due inspections", params={}, by=request.user, at=now))
    number = plan_due_inspections(today=today, by=request.user, at=now)
    messages.success(request, f"{number} inspections are planned. Those that all fall due at once can be spread here.")
    return redirect("inspections:levelling")


@permission_required("inspections.change_procedure", raise_exception=True)
@require_POST
def first_day_procedures(request):
    """Load the procedures that come with Bobbin. Safe to repeat."""
    try:
        created = load_procedures(DIRECTORY, at=timezone.now(), keep_own=True)
    except ProcedureError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"{len(created)} procedures are loaded. The Library shows each step and its limit.")
    return redirect("home")
