"""The week picture: bookings by technician and day, moved by dragging or by two presses, and the week on paper."""

from datetime import timedelta

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.days import long_date
from fleet.models import Site
from fleet.web.at_site import as_shown_to, day_words
from fleet.web.query_values import day_asked, number_asked
from inspections.at_bench.presence import bench_in_words
from inspections.forms.work import BookingForm
from inspections.models import Inspection
from inspections.reports.week import write_week
from inspections.schedule.week_bookings import MOST, Booking, week_bookings, week_of
from inspections.schedule.year_problem import technicians_with_hours
from inspections.views.at_site import visible_inspection
from inspections.views.pdfs import pdf_response
from inspections.views.planning import booked_for

VIEW, PLANS = "inspections.view_inspection", "inspections.plan_inspection"
MOST_KEY = 2**31 - 1


@permission_required(VIEW, raise_exception=True)
@require_safe
def week(request):
    """One week; `move` names the booking that is being moved, for which every day then has a button."""
    today = timezone.localdate()
    day = day_asked(request, "week", today)
    days, weeks = week_of(day), _weeks(request, day, most=MOST)
    chosen = number_asked(request, "move", 0, low=0, high=MOST_KEY)
    context = {
        "days": days,
        "weeks": weeks,
        "moving": _moved(request, chosen) if chosen else None,
        "today": today,
        "previous": days[0] - timedelta(days=7),
        "next": days[0] + timedelta(days=7),
        "may_move": request.user.has_perm(PLANS),
        "most": MOST,
        "number": sum(len(each.bookings) for each in weeks),
    }
    return render(request, "inspections/week.html", context)


@permission_required(PLANS, raise_exception=True)
@require_POST
def week_move(request, pk):
    """Move a booking to a technician and a day; what speaks against it is asked on the page of the booking."""
    inspection = visible_inspection(request, pk)
    form = BookingForm(request.POST, inspections=[inspection])
    if who := booked_for(request, inspection, form):
        words = f"{inspection.procedure} of machine {inspection.machine} is booked for {who['technician']}"
        messages.success(request, f"{words} on {day_words(who['booked_on'])}.")
        return redirect(f"{reverse('inspections:week')}?week={who['booked_on'].isoformat()}")
    context = {"form": form, "inspection": inspection, "bench": bench_in_words(inspection)}
    return render(request, "inspections/book.html", context)


@permission_required(VIEW, raise_exception=True)
@require_safe
def week_pdf(request):
    """Send every booking of the week, each technician on pages of their own."""
    today = timezone.localdate()
    day = day_asked(request, "week", today)
    with as_shown_to(request.user):
        made = f"Made for {request.user}, {long_date(today)}"
        content = write_week(_weeks(request, day), week_of(day), made=made)
    return pdf_response(content, f"week-{week_of(day)[0]}")


def _moved(request, pk):
    """Return the booking that is being moved, of this week or another; None if it can be moved no more."""
    found = Inspection.objects.visible_to(request.user).not_begun().with_place().filter(pk=pk).first()
    return Booking(found, 0) if found else None


def _weeks(request, day, *, most=None):
    people = technicians_with_hours(Site.objects.visible_to(request.user))
    return week_bookings(Inspection.objects.visible_to(request.user), people, day, most=most)
