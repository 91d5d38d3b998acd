"""Make private links to calendars."""

from hashlib import sha256

from django.db import transaction

from fleet.changes import record_created
from inspections.errors import Refused
from inspections.models import CalendarFeed
from inspections.models.label_codes import new_code

MOST = 5  # links in force of one technician or area


@transaction.atomic
def make_calendar_feed(*, by, at, person=None, area=None):
    """Make a link for a technician or an area. Return the feed and the code of the link, which is stored nowhere.

    Raise Refused for both or neither, and where MOST links are in force already.
    """
    if (person is None) == (area is None):
        raise Refused("A calendar link is for one technician or for one area. Choose one of the two.")
    if CalendarFeed.objects.in_force().filter(person=person, area=area).count() >= MOST:
        raise Refused(f"{person or area} has {MOST} calendar links. Withdraw one that nobody uses first.")
    code = new_code()
    feed = CalendarFeed.objects.create(person=person, area=area, digest=digest_of_code(code), by=by, at=at)
    record_created([feed], by=by, at=at)
    return feed, code


def digest_of_code(code):
    return sha256(code.encode()).hexdigest()
