"""The fleet in pictures: all of them on one page and on paper, and the exposure over time with what it rests on."""

from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.days import long_date
from fleet.models import Machine
from fleet.web.at_site import as_shown_to
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import accepted_fields
from inspections.exposure_history.shown_exposure import WHAT_IT_SAYS, ShownExposure
from inspections.forms.exposure import ExposureForm
from inspections.forms.programme import ProgrammeFilter
from inspections.jobs.exposure import request_exposure
from inspections.models import ExposureHistory, Inspection
from inspections.pictures.of_exposure import exposure_picture
from inspections.pictures.of_fleet import age_by_model, features_over_the_years, findings_by_code_over_time
from inspections.pictures.of_work import areas_against_minimum, areas_of, on_time_by_month, weeks_against_hours
from inspections.reports.pictures import write_pictures
from inspections.views.on_time import period_asked
from inspections.views.pdfs import pdf_response

VIEW, COMPUTE = "inspections.view_inspection", "fleet.compute_circuitcover"


@permission_required(VIEW, raise_exception=True)
@require_safe
def pictures(request):
    """Every picture of the machines that the filter keeps, with its table."""
    narrowed, found = _pictures(request)
    return render(request, "inspections/pictures.html", {"form": narrowed.form, "pictures": found})


@permission_required((VIEW, "fleet.export_register"), raise_exception=True)
@require_safe
def pictures_pdf(request):
    with as_shown_to(request.user):
        narrowed, found = _pictures(request)
        asked = [(narrowed.form[name].label, str(value)) for name, value in narrowed.asked.items() if value]
        made = f"Made for {request.user}, {long_date(timezone.localdate())}"
        return pdf_response(write_pictures(found, asked, made=made), "fleet-in-pictures")


@permission_required(VIEW, raise_exception=True)
@require_http_methods(FORM_METHODS)
def exposure(request):
    """The newest exposure of a site, what it rests on, and asking for a new one."""
    if request.method == "POST" and not request.user.has_perm(COMPUTE):
        raise PermissionDenied
    form = ExposureForm(posted(request), person=request.user)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        return redirect(request_exposure(data["site"], data["choice"], by=request.user, at=timezone.now()))
    chosen = ExposureForm(request.GET, person=request.user)
    chosen.fields["site"].required = False
    site = accepted_fields(chosen)["site"] if "site" in request.GET else None
    history = newest_exposure(request.user, site)
    context = {
        "form": form,
        "history": history,
        "picture": exposure_picture(history),
        "shown": ShownExposure(history) if history else None,
        "says": WHAT_IT_SAYS,
    }
    return render(request, "inspections/exposure.html", context)


def newest_exposure(person, site):
    """Return the newest stored exposure that a person may see, of a site or of what they see; None without one."""
    rows = ExposureHistory.objects.visible_to(person).select_related("site", "choice", "by").defer("choice__result")
    rows = rows.defer("choice__inputs", "choice__result")
    if site:
        return rows.filter(site=site).first()
    return rows.first() if person.site_ids else rows.filter(site=None).first()


def _pictures(request):
    person, today = request.user, timezone.localdate()
    narrowed = ProgrammeFilter(request.GET, Machine.objects.visible_to(person), request=request)
    asked = narrowed.asked
    first, last = period_asked(asked, today)
    machines = narrowed.rows()
    inspections = Inspection.objects.filter(machine__in=machines.order_by().values("pk"))
    return narrowed, [
        weeks_against_hours(person, asked["site"], today),
        on_time_by_month(inspections, first, last, today),
        areas_against_minimum(areas_of(person, asked["site"], asked["area"]), today),
        findings_by_code_over_time(machines, first, last),
        features_over_the_years(machines, today),
        age_by_model(machines, today),
        exposure_picture(newest_exposure(person, asked["site"])),
    ]
