"""First due dates before and after they are levelled."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.drawing import to_svg
from fleet.web.form_methods import FORM_METHODS
from fleet.web.inline_svg import inline_svg
from fleet.web.query_values import page_asked
from fleet.web.sent_numbers import sent_number
from inspections.actions import level_first_inspections
from inspections.drawing import weeks_before_and_after
from inspections.errors import GroundsChanged, Refused
from inspections.jobs.levelling import AT_ONCE, request_levelling
from inspections.schedule.levelling import by_week, days_before_and_after, first_inspections, levelled

ROWS = 25


@permission_required("inspections.plan_inspection", raise_exception=True)
@require_http_methods(FORM_METHODS)
def levelling(request):
    """Show the weeks before and after; sent, the dates are spread over the interval, many of them in the background.

    Which machine gets which day follows from a ranking, which the page leaves to the background job for many.
    """
    today = timezone.localdate()
    chosen = first_inspections(request.user, today)
    number = chosen.count()
    if request.method == "POST":
        return _sent(request, number, today)
    context = {"number": number, "is_long": number > AT_ONCE}
    if number > AT_ONCE:
        before, after = days_before_and_after(chosen, today)
    else:
        dates = levelled(chosen, today)
        before, after = [one.inspection.due_on for one in dates], [one.due_on for one in dates]
        shown = sorted(dates, key=lambda one: (one.due_on, one.place, one.inspection.pk))
        context["page"] = page_asked(request, shown, ROWS)
    return render(request, "inspections/levelling.html", context | _before_and_after(before, after, today))


def _sent(request, number, today):
    shown, who = request.POST.get("number", ""), {"by": request.user, "at": timezone.now()}
    if number > AT_ONCE:
        return redirect(request_levelling(sent_number(shown) if shown else number, **who))
    try:
        done = level_first_inspections(today=today, number=sent_number(shown) if shown else None, **who)
    except GroundsChanged as error:
        messages.error(request, " ".join([str(error), *error.changes]))
    except Refused as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"{done} first due dates are levelled.")
    return redirect("inspections:levelling")


def _before_and_after(before, after, today):
    if not after:
        return {"picture": "", "weeks": []}
    weeks = (max(after) - today).days // 7 + 2
    before, after = by_week(before, today, weeks), by_week(after, today, weeks)
    words = f"Most in one week before: {max(n for _, n in before)}; after: {max(n for _, n in after)}."
    svg = to_svg(weeks_before_and_after(before, after), "First inspections by week, before and after", words)
    rows = [(monday, was, now) for (monday, was), (_, now) in zip(before, after, strict=True) if was or now]
    return {"picture": inline_svg(svg), "weeks": rows, "words": words}
