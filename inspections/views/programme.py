"""The figures of the inspection programme, as a page and as a file."""

from django.contrib.auth.decorators import permission_required
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.models import Machine
from fleet.tables.files import FORMATS, list_file
from fleet.web.query_values import choice_asked
from inspections.forms.programme import ProgrammeFilter
from inspections.schedule.programme_figures import (
    Period,
    findings_by_code,
    most_failing_tests,
    programme_figures,
)
from inspections.views.on_time import period_asked

HEADER = ["Figure", "Value", "Lower 95 %", "Upper 95 %", "Unit", "Numerator", "Numerator is", "Denominator",
          "Denominator is", "From", "To", "Remark"]  # fmt: skip


@permission_required("inspections.view_inspection", raise_exception=True)
@require_safe
def programme(request):
    """The figures of the machines that the filter keeps."""
    narrowed = ProgrammeFilter(request.GET, Machine.objects.visible_to(request.user), request=request)
    period = Period(*period_asked(narrowed.asked, timezone.localdate()))
    machines = narrowed.rows()
    figures, tests = programme_figures(machines, period), most_failing_tests(machines, period)
    if fmt := choice_asked(request, "export", FORMATS):
        return list_file(f"programme.{fmt}", HEADER, [_cells(figure, period) for figure in figures + tests])
    context = {
        "form": narrowed.form,
        "period": period,
        "figures": figures,
        "tests": tests,
        "codes": findings_by_code(machines, period),
        "may_export": True,
    }
    return render(request, "inspections/programme.html", context)


def _cells(figure, period):
    numbers = (figure.value, figure.lower, figure.upper)
    return [
        figure.name, *numbers, figure.unit, figure.numerator, figure.numerator_is, figure.denominator,
        figure.denominator_is, period.first, period.last, figure.remark,
    ]  # fmt: skip
