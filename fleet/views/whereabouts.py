"""Where a machine is: record a move, send it away, take it back; the list of those that are away."""

from datetime import timedelta

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.actions import expect_back, move_machine, send_away, take_back
from fleet.errors import RegisterRefused
from fleet.forms.whereabouts import AwayFilter, AwayForm, BackForm, ExpectedForm, MoveForm
from fleet.models import Area, AwayPeriod
from fleet.place_format import day_text
from fleet.tables.away_machines import AwayTable
from fleet.views.lists import TableList
from fleet.views.machines import visible_machine
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import FORM_METHODS, posted

may_change = permission_required("fleet.change_machine", raise_exception=True)
USUAL_LOAN = timedelta(days=14)  # what the form offers first; common practice, no source


@may_change
@require_http_methods(FORM_METHODS)
def machine_move(request, pk):
    machine = visible_machine(request, pk)
    today = _today(machine)
    form = MoveForm(posted(request), person=request.user, today=today, initial={"on": today})
    asked = form.cleaned_data if request.method == "POST" and form.is_valid() else None
    if asked and _done(request, form, lambda who: move_machine(machine, **asked, **who)):
        messages.success(request, f"Machine {machine} is in {asked['area']} from {day_text(asked['on'])} on.")
        return redirect("fleet:machine_history", machine.pk)
    return render(request, "fleet/machine_move.html", {"machine": machine, "form": form})


@may_change
@require_http_methods(FORM_METHODS)
def machine_away(request, pk):
    machine = visible_machine(request, pk)
    today = _today(machine)
    initial = {"from_date": today, "expected_on": today + USUAL_LOAN}
    form = AwayForm(posted(request), today=today, initial=initial)
    asked = form.cleaned_data if request.method == "POST" and form.is_valid() else None
    if asked and _done(request, form, lambda who: send_away(machine, **asked, **who)):
        words = f"Machine {machine} is away; it is expected back on {day_text(asked['expected_on'])}."
        messages.success(request, words)
        return redirect(machine)
    area = Area.objects.with_in_service().select_related("site").get(pk=machine.area_id)
    left = area.in_service - machine.is_at_hand()
    context = {
        "machine": machine, "form": form, "area": area, "left": left, "is_short": left < area.minimum_machines,
        "away": machine.away_periods.now().first(),
    }  # fmt: skip
    return render(request, "fleet/machine_away.html", context)


@may_change
@require_http_methods(FORM_METHODS)
def machine_back(request, pk):
    away = _away(request, pk)
    today = _today(away.machine)
    form = BackForm(posted(request), today=today, initial={"returned_on": today})
    asked = form.cleaned_data if request.method == "POST" and form.is_valid() else None
    if asked and _done(request, form, lambda who: take_back(away, **asked, **who)):
        messages.success(request, f"Machine {away.machine} is back.")
        return redirect(away.machine)
    return render(request, "fleet/machine_back.html", {"away": away, "machine": away.machine, "form": form})


@may_change
@require_http_methods(FORM_METHODS)
def machine_expected(request, pk):
    away = _away(request, pk)
    form = ExpectedForm(posted(request), initial={"expected_on": max(away.expected_on, _today(away.machine))})
    asked = form.cleaned_data if request.method == "POST" and form.is_valid() else None
    if asked and _done(request, form, lambda who: expect_back(away, **asked, **who)):
        messages.success(request, f"Machine {away.machine} is expected back on {day_text(asked['expected_on'])}.")
        return redirect(away.machine)
    return render(request, "fleet/machine_expected.html", {"away": away, "machine": away.machine, "form": form})


class AwayList(TableList):
    permission_required = "fleet.view_machine"
    export_permission = ["fleet.export_register"]
    filterset_class = AwayFilter
    table_class = AwayTable
    template_name = "fleet/away_machines.html"
    export_name = "away"

    def get_rows(self):
        return AwayPeriod.objects.visible_to(self.request.user).select_related("machine__area__site", "by")

    def get_table_kwargs(self):
        return {"today": self.today, "may_change": self.request.user.has_perm("fleet.change_machine")}


def _away(request, pk):
    rows = AwayPeriod.objects.visible_to(request.user).select_related("machine__area__site", "machine__model")
    away = get_object_or_404(rows, pk=pk)
    show_as_site(away.machine.site)
    return away


def _today(machine):
    return machine.site.date_of(timezone.now())


def _done(request, form, act):
    """Carry out and return True, or put the sentence of a refusal on the form."""
    try:
        act({"by": request.user, "at": timezone.now()})
    except RegisterRefused as refused:
        form.add_error(None, str(refused))
        return False
    return True
