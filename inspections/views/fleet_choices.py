"""What a sum can close: the stored choices, asking for one, its page, its paper and its workbook."""

from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.export.download import file_response
from fleet.models import SiteCurrency
from fleet.web.at_site import as_shown_to
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.inline_svg import inline_svg
from fleet.web.query_values import page_asked
from inspections.drawing import frontier_svg
from inspections.errors import Refused
from inspections.forms.fleet_choice import FleetChoiceForm
from inspections.jobs.fleet_choice import request_fleet_choice
from inspections.models import FleetChoice
from inspections.reports.board_paper import frontier_points, write_board_paper
from inspections.reports.board_workbook import write_board_workbook
from inspections.retirement.shown_choice import UNIT, WHAT_IT_SAYS, ShownChoice
from inspections.views.pdfs import pdf_response

PER_PAGE, MACHINES_PER_PAGE = 25, 50


@permission_required("inspections.view_review", raise_exception=True)
@require_safe
def fleet_choices(request):
    """List the stored choices, the newest first."""
    page = page_asked(request, FleetChoice.objects.visible_to(request.user).select_related("site", "by"), PER_PAGE)
    return render(request, "inspections/fleet_choices.html", {"page": page})


@permission_required("inspections.choose_fleet", raise_exception=True)
@require_http_methods(FORM_METHODS)
def fleet_choice_add(request):
    """Ask for a sum and its limits, and request the computation."""
    form = FleetChoiceForm(posted(request), person=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            return redirect(request_fleet_choice(form.asked, by=request.user, at=timezone.now()))
        except Refused as error:
            form.add_error(None, str(error))
    has_currency = SiteCurrency.objects.visible_to(request.user).exists()
    context = {"form": form, "has_currency": has_currency, "says": WHAT_IT_SAYS}
    return render(request, "inspections/fleet_choice_add.html", context)


def visible_choice(request, pk):
    return get_object_or_404(FleetChoice.objects.visible_to(request.user).select_related("site", "by"), pk=pk)


@permission_required("inspections.view_review", raise_exception=True)
@require_safe
def fleet_choice(request, pk):
    """Show the answer, the frontier with its table, the plan by year, and every machine of it."""
    choice = visible_choice(request, pk)
    shown = ShownChoice(choice)
    picture = frontier_svg(frontier_points(shown), currency=choice.currency, unit=UNIT)
    context = {
        "choice": choice,
        "shown": shown,
        "picture": inline_svg(picture),
        "page": page_asked(request, shown.machines, MACHINES_PER_PAGE),
        "unit": UNIT,
        "says": WHAT_IT_SAYS,
    }
    return render(request, "inspections/fleet_choice.html", context)


@permission_required("inspections.view_review", raise_exception=True)
@require_safe
def fleet_choice_pdf(request, pk):
    """Send the paper for the board: two pages."""
    choice = visible_choice(request, pk)
    with as_shown_to(request.user):
        return pdf_response(write_board_paper(ShownChoice(choice)), f"what-a-sum-can-close-{choice.pk}")


@permission_required(("inspections.view_review", "fleet.export_register"), raise_exception=True)
@require_safe
def fleet_choice_xlsx(request, pk):
    """Send the tables as a workbook with a chart."""
    choice = visible_choice(request, pk)
    return file_response(f"what-a-sum-can-close-{choice.pk}.xlsx", write_board_workbook(ShownChoice(choice)))
