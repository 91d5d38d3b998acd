"""Private calendar links: made and withdrawn by planners, read by calendar programs without a login."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required, permission_required
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import page_asked
from inspections.actions import make_calendar_feed
from inspections.actions.calendar_feeds import digest_of_code
from inspections.errors import Refused
from inspections.forms.calendars import FeedForm
from inspections.models import CalendarFeed
from inspections.schedule.calendar_feed import feed_as_ical

ROWS = 25


@permission_required("inspections.plan_inspection", raise_exception=True)
@require_http_methods(FORM_METHODS)
@never_cache
def calendar_feeds(request):
    """The links in force; a new one is shown once, on the answer itself."""
    form, link = FeedForm(posted(request), person=request.user), ""
    if request.method == "POST" and form.is_valid():
        try:
            feed, code = make_calendar_feed(by=request.user, at=timezone.now(), **form.chosen)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{feed} is made. Copy it now: it is not shown again.")
            link = request.build_absolute_uri(reverse("inspections:calendar_feed", args=[code]))
            form = FeedForm(person=request.user)
    feeds = CalendarFeed.objects.in_force().visible_to(request.user).select_related("person", "area__site", "by")
    context = {"form": form, "link": link, "page": page_asked(request, feeds, ROWS)}
    return render(request, "inspections/calendar_feeds.html", context)


@login_not_required
@require_safe
@never_cache
def calendar_feed(request, code):
    """The calendar of a link. A link that is withdrawn, or of a person who cannot sign in any more, is not found."""
    feeds = CalendarFeed.objects.in_force().select_related("person", "area__site")
    feed = feeds.filter(digest=digest_of_code(code)).first()
    if feed is None or (feed.person and not feed.person.is_active):
        raise Http404
    content = feed_as_ical(feed, today=timezone.localdate(), at=timezone.now())
    return HttpResponse(content, content_type="text/calendar; charset=utf-8")
