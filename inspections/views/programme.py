"""The figures of the inspection programme, as a page and as a file."""

from django.contrib.auth.decorators import permission_required
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.days import long_date
from fleet.models import Machine
from fleet.tables.files import FORMATS, list_file
from fleet.web.query_values import choice_asked
from inspections.forms.on_time import narrow_due
from inspections.forms.programme import ProgrammeFilter
from inspections.kept.due_dates import in_period, seen_due_dates
from inspections.pictures.of_fleet import findings_by_code_over_time
from inspections.pictures.of_work import on_time_picture
from inspections.reports.programme import ProgrammeReport, write_programme
from inspections.schedule.on_time_figures import DIMENSIONS, split_figure
from inspections.schedule.programme_figures import (
    Period,
    findings_by_code,
    most_failing_tests,
    programme_figures,
)
from inspections.views.on_time import period_asked
from inspections.views.pdfs import pdf_response

ON_PAPER = ("month", "site", "procedure", "model")
KEPT = ("site", "area", "model")
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
        "picture": findings_by_code_over_time(machines, period.first, period.last),
        "may_export": True,
    }
    return render(request, "inspections/programme.html", context)


@permission_required(("inspections.view_inspection", "fleet.export_register"), raise_exception=True)
@require_safe
def programme_pdf(request):
    """Send the figures and the on-time figure of the machines that the filter keeps, on paper."""
    narrowed = ProgrammeFilter(request.GET, Machine.objects.visible_to(request.user), request=request)
    today = timezone.localdate()
    period = Period(*period_asked(narrowed.asked, today))
    machines = narrowed.rows()
    rows = in_period(narrow_due(seen_due_dates(request.user), narrowed.asked), period.first, period.last, today)
    splits = {by: split_figure(rows, by) for by in ON_PAPER}
    report = ProgrammeReport(
        period=period,
        asked=[(narrowed.form[name].label, str(narrowed.asked[name])) for name in KEPT if narrowed.asked[name]],
        on_time=splits["month"][0],
        splits=[(DIMENSIONS[by], lines) for by, (_, lines) in splits.items()],
        figures=programme_figures(machines, period),
        tests=most_failing_tests(machines, period),
        codes=findings_by_code(machines, period),
        pictures=[
            on_time_picture(splits["month"][1]),
            findings_by_code_over_time(machines, period.first, period.last),
        ],
    )
    made = f"Made for {request.user}, {long_date(today)}"
    return pdf_response(write_programme(report, made=made), f"inspection-programme-{period.last}")


def _cells(figure, period):
    numbers = (figure.value, figure.lower, figure.upper)
    return [
        figure.name, *numbers, figure.unit, figure.numerator, figure.numerator_is, figure.denominator,
        figure.denominator_is, period.first, period.last, figure.remark,
    ]  # fmt: skip
