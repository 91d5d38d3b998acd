"""Record that an inspection did not happen; the machines that were attempted several times."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.models import AwayPeriod, Machine
from fleet.views.lists import TableList
from inspections.actions import record_attempt
from inspections.errors import Refused
from inspections.forms.attempts import AttemptedFilter, AttemptForm
from inspections.models.querysets.attempts import machines_attempted_several_times, with_attempts
from inspections.tables.attempts import AttemptedTable
from inspections.views.at_site import visible_inspection

SHOWN = 20  # attempts on the page of one inspection


@permission_required("inspections.add_attempt", raise_exception=True)
@require_http_methods(["GET", "POST"])
def attempt(request, pk):
    """What happened instead; the inspection stays open and due."""
    inspection = visible_inspection(request, pk)
    away = AwayPeriod.objects.now().filter(machine=inspection.machine).first()
    form = AttemptForm(request.POST or None, initial=_told_by(away, inspection))
    if request.method == "POST" and form.is_valid():
        try:
            made = record_attempt(inspection, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            inspection.refresh_from_db()
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{made.words} is recorded. {inspection} stays open and due as it was.")
            return redirect(inspection)
    context = {"form": form, "inspection": inspection, "attempts": latest_attempts(inspection), "away": away}
    return render(request, "inspections/attempt.html", context)


def _told_by(away, inspection):
    """What the form begins with for a machine that is recorded as away."""
    if away is None:
        return {}
    expected = {} if away.is_overdue(inspection.machine.site.date_of(timezone.now())) else {"until": away.expected_on}
    return {"kind": away.kind, "reason": f"{away.to_whom}: {away.reason}", **expected}


def latest_attempts(inspection):
    return list(inspection.attempts.select_related("by")[:SHOWN])


class AttemptedList(TableList):
    permission_required = "inspections.view_inspection"
    filterset_class = AttemptedFilter
    table_class = AttemptedTable
    template_name = "inspections/attempted.html"
    export_name = "attempted"

    def get_rows(self):
        return machines_attempted_several_times(Machine.objects.visible_to(self.request.user))

    def complete(self, rows):
        return with_attempts(rows.with_place())

    def get_table_kwargs(self):
        return {"today": self.today}
