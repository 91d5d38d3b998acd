"""What the head of every page of a machine shows."""

from django.utils import timezone

from fleet.machine_page.state_on_day import area_on_day, status_on
from fleet.models import AwayPeriod


def head_on(machine, day, today, tab_title=""):
    """Return the context of the head on a page that shows the machine as it was on `day`."""
    away = AwayPeriod.objects.on(day).filter(machine=machine).first()
    return {
        "machine": machine,
        "day": day,
        "today": today,
        "is_past": day != today,
        "status_change": status_on(machine, day),
        "area_shown": machine.area if day == today else area_on_day(machine, day),
        "away": away,
        "away_overdue": away is not None and away.is_overdue(today),
        "tab_title": tab_title,
    }


def head_today(machine, tab_title):
    """Return the context of the head on a page that shows the machine as it is."""
    today = machine.site.date_of(timezone.now())
    return head_on(machine, today, today, tab_title)
