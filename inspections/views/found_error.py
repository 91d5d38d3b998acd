"""What rests on an instrument that was found in error."""

from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.models import Calibration
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import FORM_METHODS
from inspections.deciding.found_error import MOST_ON_A_PAGE, found_error, inspections_on, loaded, readings_on, suspected
from inspections.jobs.found_errors import request_found_error


@permission_required(["fleet.view_instrument", "inspections.view_inspection"], raise_exception=True)
@require_http_methods(FORM_METHODS)
def found_error_page(request, pk):
    """Decide the newest signed inspections again, and on request all of them in the background. Nothing is stored."""
    rows = Calibration.objects.visible_to(request.user).select_related("instrument__site")
    calibration = get_object_or_404(rows, pk=pk)
    show_as_site(calibration.instrument.site)
    if request.method == "POST":
        return redirect(request_found_error(calibration, by=request.user, at=timezone.now()))
    error = found_error(calibration)
    inspections = inspections_on(error, request.user)
    total = inspections.count()
    chosen = list(inspections.values_list("pk", flat=True)[:MOST_ON_A_PAGE]) if error.by_scale else []
    context = {
        "calibration": calibration,
        "instrument": calibration.instrument,
        "error": error,
        "total": total,
        "readings": readings_on(error).filter(step__inspection__in=inspections.order_by()).count(),
        "decided": len(chosen),
        "left_out": total - len(chosen),
        "suspected": [one for inspection in loaded(chosen) for one in suspected(inspection, error)],
    }
    return render(request, "inspections/found_error.html", context)
