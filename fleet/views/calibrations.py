"""The page of one calibration, its points, and what an instrument's interval and corrections follow."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions import decide_calibration_rules, enter_calibration_points
from fleet.calibration.typed_points import written_points
from fleet.certificates.errors import disagrees, errors_of, verdict_as_found, verdict_as_left
from fleet.certificates.evidence import recommended_interval
from fleet.errors import Refused
from fleet.extensions import calibration_links
from fleet.forms.calibrations import CalibrationRulesForm, PointsForm
from fleet.models import Calibration, Instrument
from fleet.place_format import current
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import choice_asked


@permission_required("fleet.view_instrument", raise_exception=True)
@require_safe
def calibration_page(request, pk):
    calibration = _calibration(request, pk)
    errors = errors_of(calibration, calibration.instrument.scales.all())
    found, left = verdict_as_found(errors), verdict_as_left(errors)
    context = {
        "calibration": calibration,
        "instrument": calibration.instrument,
        "errors": errors,
        "found": found,
        "left": left,
        "disagrees": disagrees(calibration, found, left),
        "links": calibration_links(request, calibration),
    }
    return render(request, "fleet/calibration.html", context)


@permission_required("fleet.add_calibration", raise_exception=True)
@require_http_methods(FORM_METHODS)
def calibration_points(request, pk):
    """Enter the points of one scale; those entered of it before are replaced."""
    calibration = _calibration(request, pk)
    scales = list(calibration.instrument.scales.all())
    form = PointsForm(posted(request), scales=scales, initial=_stored(request, calibration, scales))
    if request.method == "POST" and form.is_valid():
        try:
            points = form.cleaned_data["scale_points"]
            enter_calibration_points(calibration, points, by=request.user, at=timezone.now())
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"{len(points.points)} points of {calibration.certificate} are saved.")
            return redirect(calibration)
    context = {"form": form, "calibration": calibration, "instrument": calibration.instrument}
    return render(request, "fleet/calibration_points.html", context)


@permission_required("fleet.add_calibration", raise_exception=True)
@require_http_methods(FORM_METHODS)
def calibration_rules(request, pk):
    """Decide about interval and corrections, beside what the instrument's own results recommend."""
    instrument = get_object_or_404(Instrument.objects.visible_to(request.user).select_related("site"), pk=pk)
    show_as_site(instrument.site)
    form = CalibrationRulesForm(posted(request), instance=instrument)
    if request.method == "POST" and form.is_valid():
        try:
            decide_calibration_rules(instrument, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"Interval and corrections of {instrument} are saved.")
            return redirect(instrument)
    evidence = recommended_interval(instrument, instrument.calibrations.all(), list(instrument.scales.all()))
    context = {"form": form, "instrument": instrument, "evidence": evidence}
    return render(request, "fleet/calibration_rules.html", context)


def _stored(request, calibration, scales):
    """Return what is stored of the scale that the address names, to be corrected; nothing without one."""
    asked = choice_asked(request, "scale", [str(scale.pk) for scale in scales])
    held = next((one for one in calibration.scale_points if str(one.scale) == asked), None)
    if held is None:
        return {}
    return {"scale": held.scale, "unit": held.unit, "text": written_points(held.points, current().decimal)}


def _calibration(request, pk):
    rows = Calibration.objects.visible_to(request.user).select_related("instrument__site")
    calibration = get_object_or_404(rows, pk=pk)
    show_as_site(calibration.instrument.site)
    return calibration
