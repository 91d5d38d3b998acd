"""The page of the first day, and what one press does there."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from config.home.first_day import first_steps
from fleet.actions import put_start_away, show_start_again
from fleet.models import StartPutAway
from inspections.actions import load_procedures
from inspections.at_bench.procedure_files import DIRECTORY
from inspections.errors import ProcedureError


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
