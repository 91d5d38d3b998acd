"""Calendars: hours, leave and competences of each technician; free days and closing days of sites and areas."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.models import Person, Site
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import page_asked
from inspections.actions import (
    add_free_day,
    close_area,
    confirm_competence,
    enter_leave,
    set_working_hours,
    withdraw_calendar_entry,
)
from inspections.errors import Refused
from inspections.forms.calendars import ClosingForm, CompetenceForm, FreeDayForm, HoursForm, LeaveForm
from inspections.models import AreaClosing, CalendarFeed, Competence, FreeDay, Leave
from inspections.schedule.free_days import free_days
from inspections.schedule.technicians import technicians_for
from inspections.schedule.working_days import leaves_between, weekly_hours

PLANS = "inspections.plan_inspection"
ROWS = 25
AHEAD_DAYS = 366
KINDS = {"leave": Leave, "competence": Competence, "free-day": FreeDay, "closing": AreaClosing, "feed": CalendarFeed}


@permission_required(PLANS, raise_exception=True)
@require_safe
def calendars(request):
    """Technicians with the hours of their week and whether they are away today."""
    page = page_asked(request, _technicians(request.user), ROWS)
    keys, today = [person.pk for person in page], timezone.localdate()
    hours, leaves = weekly_hours(keys), leaves_between(keys, today, today)
    rows = [
        (person, sum(hours.get(person.pk, {}).values()) / 60, person.pk in hours, leaves.get(person.pk))
        for person in page
    ]
    return render(request, "inspections/calendars.html", {"page": page, "rows": rows})


@permission_required(PLANS, raise_exception=True)
@require_http_methods(FORM_METHODS)
def technician_calendar(request, pk):
    """One technician: hours, leave, competences. `what` of the form says which of them is sent."""
    person = get_object_or_404(_technicians(request.user), pk=pk)
    forms = _forms_of(request, person)
    what = request.POST.get("what")
    if request.method == "POST" and what in forms and forms[what].is_valid():
        try:
            _save(what, forms[what], person, by=request.user, at=timezone.now())
        except Refused as error:
            forms[what].add_error(None, str(error))
        else:
            messages.success(request, f"The calendar of {person} is saved.")
            return redirect("inspections:technician_calendar", person.pk)
    context = {
        "person": person,
        "forms": forms,
        "leaves": page_asked(request, Leave.objects.in_force().filter(person=person).select_related("by"), ROWS),
        "competences": Competence.objects.in_force()
        .filter(person=person)
        .select_related("machine_model", "confirmed_by")[:ROWS],
    }
    return render(request, "inspections/technician_calendar.html", context)


def _forms_of(request, person):
    sent = request.POST.get("what")

    def data(name):
        return posted(request) if sent == name else None

    return {
        "hours": HoursForm(data("hours"), minutes=weekly_hours([person.pk]).get(person.pk, {}), prefix="h"),
        "leave": LeaveForm(data("leave"), prefix="l"),
        "competence": CompetenceForm(data("competence"), prefix="c"),
    }


def _save(what, form, person, *, by, at):
    if what == "hours":
        set_working_hours(person, form.minutes, by=by, at=at)
    elif what == "leave":
        enter_leave(person, by=by, at=at, **form.cleaned_data)
    else:
        confirm_competence(person, by=by, at=at, **form.cleaned_data)


@permission_required(PLANS, raise_exception=True)
@require_http_methods(FORM_METHODS)
def closed_days(request):
    """Free days of the sites and closing days of the areas, with the public holidays of the year ahead."""
    sent, today = request.POST.get("what"), timezone.localdate()
    forms = {
        "free-day": FreeDayForm(posted(request) if sent == "free-day" else None, person=request.user, prefix="f"),
        "closing": ClosingForm(posted(request) if sent == "closing" else None, person=request.user, prefix="c"),
    }
    if request.method == "POST" and sent in forms and forms[sent].is_valid():
        act = {"free-day": _add_free_day, "closing": _add_closing}[sent]
        try:
            act(forms[sent].cleaned_data, by=request.user, at=timezone.now())
        except Refused as error:
            forms[sent].add_error(None, str(error))
        else:
            messages.success(request, "Saved.")
            return redirect("inspections:closed_days")
    page = page_asked(request, Site.objects.visible_to(request.user).order_by("name"), 10)
    shown = {"free_day": forms["free-day"], "closing": forms["closing"]}
    context = {"forms": shown, "page": page, **_days_shown(request.user, page, today)}
    return render(request, "inspections/closed_days.html", context)


def _days_shown(person, page, today):
    found = free_days(list(page), today, today.replace(year=today.year + 1, day=min(today.day, 28)))
    entered = FreeDay.objects.in_force().visible_to(person).filter(day__gte=today).select_related("site")
    closings = AreaClosing.objects.in_force().visible_to(person).select_related("area__site")
    return {
        "by_site": [(site, sorted(found[site.pk].items())) for site in page],
        "entered": entered[: 4 * ROWS],
        "closings": closings[: 4 * ROWS],
    }


def _add_free_day(data, *, by, at):
    add_free_day(data["site"], day=data["day"], title=data["title"], by=by, at=at)


def _add_closing(data, *, by, at):
    area = data.pop("area")
    close_area(area, by=by, at=at, **data)


@permission_required(PLANS, raise_exception=True)
@require_POST
def calendar_withdraw(request, kind, pk):
    """Withdraw one entry of a calendar."""
    if kind not in KINDS:
        raise Http404
    entry = get_object_or_404(KINDS[kind].objects.visible_to(request.user), pk=pk)
    try:
        withdraw_calendar_entry(entry, by=request.user, at=timezone.now())
    except Refused as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"{entry} is withdrawn.")
    if kind in ("free-day", "closing"):
        return redirect("inspections:closed_days")
    if kind == "feed":
        return redirect("inspections:calendar_feeds")
    return redirect("inspections:technician_calendar", entry.person_id)


def _technicians(person):
    able = technicians_for(person.site_ids or Site.objects.all())
    return Person.objects.filter(pk__in=able.values("pk"))
