"""The plan of the year: its picture, its proposal, what has no day; somebody away; first due dates levelled."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.drawing import to_svg
from fleet.models import Site
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.inline_svg import inline_svg
from fleet.web.query_values import choice_asked, number_asked, page_asked
from inspections.actions import accept_year_plan, move_bookings_of
from inspections.drawing import LoadRow, WeekBar, describe_week_load, week_load
from inspections.errors import GroundsChanged, Refused
from inspections.forms.calendars import AwayForm
from inspections.jobs.year_plan import request_year_plan
from inspections.models import Inspection, YearPlan
from inspections.schedule.absence import moves_of_absence
from inspections.schedule.year_load import year_loads
from inspections.schedule.year_problem import technicians_with_hours

PLANS = "inspections.plan_inspection"
ROWS = 25
PEOPLE = 8  # in one picture
LISTS = {"placed": "Proposed days", "unplaced": "Without a day"}


@permission_required(PLANS, raise_exception=True)
@require_http_methods(FORM_METHODS)
def year_plan(request):
    """The newest proposal of this person beside what is booked; sent, it asks for a new one."""
    if request.method == "POST":
        return redirect(request_year_plan(by=request.user, at=timezone.now()))
    today = timezone.localdate()
    plan = YearPlan.objects.newest_of(request.user)
    chosen = choice_asked(request, "list", LISTS, "placed")
    rows = plan.proposed_days.with_place().order_by("day", "pk") if plan else Inspection.objects.none()
    lists = {"placed": rows.placed(), "unplaced": rows.unplaced()} if plan else {"placed": rows, "unplaced": rows}
    people, others = _people(request)
    loads = year_loads(people, today, plan=plan)
    context = {
        "plan": plan,
        "tabs": [(name, label, lists[name].count(), name == chosen) for name, label in LISTS.items()],
        "chosen": chosen,
        "page": page_asked(request, lists[chosen], ROWS),
        "loads": loads,
        "picture": _picture(loads),
        "weeks": list(zip(*(load.weeks for load in loads), strict=True)),
        "others": others,
        "open": Inspection.objects.visible_to(request.user).planned().count(),
    }
    return render(request, "inspections/year_plan.html", context)


def _people(request):
    """The technicians of one picture, and (number, is shown) of each picture if there are several."""
    everybody = list(technicians_with_hours(Site.objects.visible_to(request.user)))
    pictures = max(1, -(-len(everybody) // PEOPLE))
    number = number_asked(request, "people", 1, high=pictures)
    shown = everybody[PEOPLE * (number - 1) : PEOPLE * number]
    return shown, [(one, one == number) for one in range(1, pictures + 1)] if pictures > 1 else []


def _picture(loads):
    if not loads:
        return ""
    rows = [
        LoadRow(
            str(load.person),
            tuple(WeekBar(one.monday, one.hours / 60, one.booked / 60, one.proposed / 60) for one in load.weeks),
        )
        for load in loads
    ]
    return inline_svg(to_svg(week_load(rows), "Weeks of each technician against hours", describe_week_load(rows)))


@permission_required(PLANS, raise_exception=True)
@require_POST
def year_plan_accept(request):
    """Book every day of the proposal."""
    plan = YearPlan.objects.newest_of(request.user)
    try:
        if plan is None:
            raise Refused("There is no plan to accept. Compute one first.")
        accepted = accept_year_plan(plan, by=request.user, at=timezone.now())
    except Refused as error:
        messages.error(request, str(error))
    else:
        words = f"{accepted.booked} inspections are booked."
        if accepted.left:
            words += f" {accepted.left} had changed since the plan was computed and stay as they are."
        messages.success(request, words)
    return redirect("inspections:year_plan")


@permission_required(PLANS, raise_exception=True)
@require_http_methods(FORM_METHODS)
def away(request):
    """Somebody is away: first show what moves where and why, then do it when the same form is sent again."""
    form = AwayForm(posted(request), person=request.user)
    moves = None
    if request.method == "POST" and form.is_valid():
        data, today = dict(form.cleaned_data), timezone.localdate()
        person, days = data["technician"], (data["first_day"], data["last_day"])
        try:
            if shown := request.POST.get("shown"):
                return _moved(request, data, shown, today)
        except GroundsChanged as error:
            form.add_error(None, " ".join([str(error), *error.changes]))
        except Refused as error:
            form.add_error(None, str(error))
        moves = moves_of_absence(person, *days, by=request.user, today=today)
    return render(request, "inspections/away.html", {"form": form, "moves": moves})


def _moved(request, data, shown, today):
    person = data.pop("technician")
    moves = move_bookings_of(person, by=request.user, at=timezone.now(), today=today, shown=shown, **data)
    words = f"{person} is entered as away. {len(moves.moved)} inspections are booked for another day or person"
    if moves.unplaced:
        words += f"; {len(moves.unplaced)} have no place and are planned again without a day"
    messages.success(request, f"{words}.")
    return redirect("inspections:technician_calendar", person.pk)
