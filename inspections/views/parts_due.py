"""Components that have a life: those that are due, and what their meters showed."""

from datetime import timedelta

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.models import Component
from fleet.views.lists import TableList
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import posted
from fleet.web.query_values import choice_asked
from inspections.actions import enter_meter_reading, withdraw_meter_reading
from inspections.errors import Refused
from inspections.forms.planning_rules import MeterForm, PartFilter
from inspections.models import MeterReading
from inspections.schedule.parts_due import PartsWithLife
from inspections.tables.parts_due import PartTable

TABS = {"due": "Due", "meter": "By meter, not due yet", "undecided": "Cannot be decided: no meter reading"}
EMPTY = {
    "due": "No component is due in this period. Lives of components are set in the library.",
    "meter": "No component has a life in hours or cycles of which some is left.",
    "undecided": "Every component with a life in hours or cycles has a meter reading.",
}
READINGS_SHOWN = 50


class PartList(TableList):
    """What is due of the components with a life, paged."""

    permission_required = "inspections.view_inspection"
    export_permission = ["fleet.export_register"]
    export_name = "parts-due"
    filterset_class = PartFilter
    table_class = PartTable
    template_name = "inspections/parts_due.html"

    def get_rows(self):
        self.parts = PartsWithLife(self.today)
        return self.parts.components(self.request.user)

    def get_queryset(self):
        self.kept = super().get_queryset()
        self.chosen = choice_asked(self.request, "view", TABS, "due")
        return self.of_tab(self.chosen)

    def of_tab(self, name):
        if name == "due":
            return self.parts.due_by(self.kept, self.today + timedelta(days=self.filterset.asked["days"]))
        return self.parts.by_meter(self.kept) if name == "meter" else self.parts.undecided(self.kept)

    def get_table_kwargs(self):
        return {"parts": self.parts, "today": self.today, "empty_text": EMPTY[self.chosen]}

    def get_context_data(self, **kwargs):
        tabs = [(name, label, self.of_tab(name).count(), name == self.chosen) for name, label in TABS.items()]
        return super().get_context_data(tabs=tabs, chosen=self.chosen, **kwargs)


@permission_required("fleet.add_component", raise_exception=True)
@require_http_methods(["GET", "POST"])
def meter_readings(request, pk):
    """Enter what the meter of a component showed; earlier readings are listed."""
    rows = Component.objects.visible_to(request.user).select_related("machine__area__site", "machine__model")
    component = get_object_or_404(rows, pk=pk)
    show_as_site(component.machine.site)
    form = MeterForm(posted(request), initial={"read_on": component.machine.site.date_of(timezone.now())})
    if request.method == "POST" and form.is_valid():
        try:
            enter_meter_reading(component, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, "The reading is entered.")
            return redirect("inspections:meter_readings", pk)
    readings = component.meter_readings.select_related("by", "withdrawn_by")[:READINGS_SHOWN]
    context = {"form": form, "component": component, "machine": component.machine, "readings": readings}
    return render(request, "inspections/meter_readings.html", context)


@permission_required("fleet.add_component", raise_exception=True)
@require_POST
def meter_withdraw(request, pk):
    reading = get_object_or_404(MeterReading.objects.visible_to(request.user), pk=pk)
    try:
        withdraw_meter_reading(reading, by=request.user, at=timezone.now())
    except Refused as error:
        messages.error(request, str(error))
    else:
        messages.success(request, "The reading is withdrawn. It stays readable.")
    return redirect("inspections:meter_readings", reading.component_id)
