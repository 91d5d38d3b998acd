"""What the head of every page of a machine shows."""

from django.utils import timezone

from fleet.machine_page.state_on_day import status_on


def head_on(machine, day, today, tab_title=""):
    """Return the context of the head on a page that shows the machine as it was on `day`."""
    return {
        "machine": machine,
        "day": day,
        "today": today,
        "is_past": day != today,
        "status_change": status_on(machine, day),
        "tab_title": tab_title,
    }


def head_today(machine, tab_title):
    """Return the context of the head on a page that shows the machine as it is."""
    today = machine.site.date_of(timezone.now())
    return head_on(machine, today, today, tab_title)
