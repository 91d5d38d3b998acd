"""Open work by heading, and machines at hand and booked by area, from kept counts."""

from functools import cache

from django.db import models
from django.db.models import Sum, Value

from fleet.models.querysets.prepared_queries import prepared
from inspections.kept_counts.counts import counts_hold
from inspections.kept_counts.tallies import AT_HAND, BOOKED_AWAY, NO_DAY, OPEN_WORK, SIGNED_ONCE, SIGNED_TWICE
from inspections.models import KeptCount
from inspections.models.querysets.inspections import OPEN_STAGES

HEADINGS = ("due", "overdue", "booked", "bench", "countersign")
SIGNED = ("signed", "signed twice")


def counted_work(names, sites, *, today, last_due, not_by=None):
    """Return how many inspections there are under some of HEADINGS or SIGNED at the sites; None if that is not kept.

    sites   keys; empty for every site
    not_by  key of the person whose own signatures are not counted under “countersign”, if any
    """
    if not counts_hold():
        return None
    values = {"today": today, "last_due": last_due, "person": str(not_by or "")}
    if len(sites) > 1:
        rows = _counting(names, sites, **values)
    else:
        rows = _prepared(names, bool(sites))(*values.values(), *sites)
    return dict.fromkeys(names, 0) | {name: number or 0 for name, number in rows}


@cache
def _prepared(names, is_of_site):
    if is_of_site:
        return prepared(lambda today, last_due, person, site: _counting(names, [site], today, last_due, person))
    return prepared(lambda today, last_due, person: _counting(names, [], today, last_due, person))


def _counting(names, sites, today, last_due, person):
    """Return the query for the number under each heading, (name, number) of each; None without any row.

    Whatever is overdue is due before today as well, which the index of days begins with.
    """
    work = _of(OPEN_WORK, sites).filter(what__in=OPEN_STAGES)
    rows = {
        "due": work.filter(day__lte=last_due, last_day__gte=today),
        "overdue": work.filter(day__lte=today, last_day__lt=today),
        "booked": _of(OPEN_WORK, sites).filter(what="booked"),
        "bench": _of(OPEN_WORK, sites).filter(what="on bench"),
        "countersign": _of(SIGNED_ONCE, sites).exclude(what=person),
        "signed": _of(SIGNED_ONCE, sites),
        "signed twice": _of(SIGNED_TWICE, sites),
    }
    first, *others = (
        rows[name].annotate(counted=Value(name, models.CharField())).values_list("counted").annotate(n=Sum("number"))
        for name in names
    )
    return first.union(*others, all=True)


def counted_signed(sites):
    """Return how many signed inspections there are at the sites, every site if none is named; None where not kept."""
    found = counted_work(SIGNED, sites, today=NO_DAY, last_due=NO_DAY)
    return found and sum(found.values())


def _of(tally, places=()):
    rows = KeptCount.objects.filter(tally=tally.name).order_by()
    return rows.filter(location__in=places) if places else rows


@prepared
def machines_at_hand():
    """Return (area, number of machines in service that are there) of every area that has any."""
    return _of(AT_HAND).filter(number__gt=0).values_list("location", "number")


@prepared
def areas_booked(first, last, beyond):
    """Return (day, area, number) where more than `beyond` machines at hand are booked away on a day of these."""
    rows = _of(BOOKED_AWAY).filter(what="", day__gte=first, day__lte=last, number__gt=beyond)
    return rows.values_list("day", "location", "number")
