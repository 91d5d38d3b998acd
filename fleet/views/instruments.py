"""Test equipment and its calibrations."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions import add_instrument, record_calibration
from fleet.certificates.errors import errors_of, verdict_as_found
from fleet.certificates.evidence import NEWEST, recommended_interval
from fleet.errors import Refused
from fleet.forms.instruments import CalibrationForm, InstrumentFilter, InstrumentForm, ScaleFormSet
from fleet.models import Instrument
from fleet.tables.instruments import InstrumentTable, standing_mark
from fleet.views.lists import TableList
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import page_asked


class InstrumentList(TableList):
    permission_required = "fleet.view_instrument"
    table_class = InstrumentTable
    filterset_class = InstrumentFilter
    export_name = "instruments"
    template_name = "fleet/instruments.html"

    def get_rows(self):
        instruments = Instrument.objects.visible_to(self.request.user).usable().select_related("site")
        return instruments.with_standing(self.today)


@permission_required("fleet.view_instrument", raise_exception=True)
@require_safe
def instrument_page(request, pk):
    instruments = Instrument.objects.visible_to(request.user).select_related("site")
    instrument = get_object_or_404(instruments.with_standing(timezone.localdate()), pk=pk)
    show_as_site(instrument.site)
    scales = list(instrument.scales.all())
    page = page_asked(request, instrument.calibrations.all(), 20)
    newest = page.object_list if page.number == 1 else instrument.calibrations.all()[:NEWEST]
    context = {
        "instrument": instrument,
        "standing": standing_mark(instrument.standing),
        "scales": scales,
        "page": page,
        "rows": [(one, verdict_as_found(errors_of(one, scales))) for one in page],
        "evidence": recommended_interval(instrument, newest, scales),
    }
    return render(request, "fleet/instrument.html", context)


@permission_required("fleet.add_instrument", raise_exception=True)
@require_http_methods(FORM_METHODS)
def instrument_add(request):
    form = InstrumentForm(posted(request), person=request.user)
    scales = ScaleFormSet(posted(request), prefix="scales")
    if request.method == "POST" and form.is_valid() and scales.is_valid():
        instrument = add_instrument(scales=scales.scales(), by=request.user, at=timezone.now(), **form.cleaned_data)
        messages.success(request, f"{instrument} is entered. Record its calibration, so that it can be used.")
        return redirect("fleet:calibration_add", pk=instrument.pk)
    return render(request, "fleet/instrument_add.html", {"form": form, "scales": scales})


@permission_required("fleet.add_calibration", raise_exception=True)
@require_http_methods(FORM_METHODS)
def calibration_add(request, pk):
    instrument = get_object_or_404(Instrument.objects.visible_to(request.user).select_related("site"), pk=pk)
    show_as_site(instrument.site)
    today = instrument.site.date_of(timezone.now())
    form = CalibrationForm(posted(request), instrument=instrument, today=today)
    if request.method == "POST" and form.is_valid():
        try:
            calibration = record_calibration(instrument, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"Calibration {calibration.certificate} is recorded.")
            return redirect(instrument)
    return render(request, "fleet/calibration_add.html", {"form": form, "instrument": instrument})
