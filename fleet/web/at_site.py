"""What belongs to one site is shown in its time zone, with its decimal sign, days, units and paper."""

from contextlib import contextmanager, nullcontext
from datetime import datetime
from zoneinfo import ZoneInfo

from django.utils import timezone

from fleet.days import long_date
from fleet.place_format import use, using


def show_as_site(site):
    """Show the rest of this request as `site` does; config.place.PlaceOfPerson ends that with the request."""
    timezone.activate(ZoneInfo(site.time_zone))
    use(site.place_format)


def day_words(value):
    """Return a day as the place shown now writes it; of a moment, its day in the current time zone."""
    day = timezone.localtime(value).date() if isinstance(value, datetime) else value
    return long_date(day)


def as_shown_to(person):
    """Show what is inside as pages over many sites are shown to a person: as their only site does, else neutrally."""
    return at_site(person.only_site) if person.only_site else nullcontext()


@contextmanager
def at_site(site):
    """Show what is inside as `site` does."""
    with timezone.override(ZoneInfo(site.time_zone)), using(site.place_format):
        yield
