"""What is counted in kept counts, in which buckets, and which of them written rows touch.

A bucket is what one number counts. Its location is the key of a site or of an area; a number that needs no words or
days has NOTHING and NO_DAY there.
"""

import re
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import cache, partial
from typing import NamedTuple

from django.db.models import Count

from fleet.acting.covered import columns_of
from fleet.acting.keys import conditions_on
from fleet.models import Area, AwayPeriod, Machine
from inspections.models import Inspection
from inspections.models.querysets.inspections import OPEN_STAGES, SIGNED_STAGES

NOTHING = ""
NO_DAY = date.min
DAY = re.compile(r"\d{4}-\d\d-\d\d")
# What decides where a row is counted.
READ = {
    Inspection: ("machine", "stage", "due_on", "closes_on", "booked_on", "signed_by"),
    Machine: ("area", "status", "staged"),
}


class Bucket(NamedTuple):
    """What one number counts."""

    tally: str
    location: int
    what: str = NOTHING
    day: date = NO_DAY
    last_day: date = NO_DAY

    @property
    def key(self):
        return f"{self.tally}|{self.location}|{self.what}|{self.day}|{self.last_day}"


def bucket_of(row):
    return Bucket(*(getattr(row, name) for name in Bucket._fields))


@dataclass(frozen=True, slots=True)
class Tally:
    """One kind of count.

    of_work  function of (Work, its Place) -> the bucket that counts it, or None; None for a tally of machines
    numbers  function of (buckets, using) -> the number of each that is not 0; of all that there are for None
    """

    name: str
    of_work: Callable | None
    numbers: Callable


class Work(NamedTuple):
    """What decides where an inspection is counted."""

    stage: str
    due_on: date
    closes_on: date
    booked_on: date | None
    signed_by: int | None


class Place(NamedTuple):
    area: int
    site: int


def touched(written, using, counted):
    """Return the buckets whose numbers may have changed.

    written  model -> key -> state before, as a Scope collects it
    counted  what was counted of a row where its state before is not known, by model and key: noted here
    """
    before = _Before(written, counted)
    moved = _moved(written, before, using)
    work = _changed_work(written.get(Inspection, ()), before, using)
    for machine, found in _work_of(moved, using).items():
        work[machine] |= found
    places = _places(work.keys() | moved, before, using)
    found = {Bucket(AT_HAND.name, place.area) for machine in moved for place in places.get(machine, ())}
    for machine, states in work.items():
        for place in places.get(machine, ()):
            found.update(bucket for one in states for tally in OF_WORK if (bucket := tally.of_work(one, place)))
    return found


class _Before:
    """What decided where a row was counted before it was written."""

    def __init__(self, written, counted):
        self.written, self.counted = written, counted
        self.was = {model: dict(counted.setdefault(model, {})) for model in READ}

    def of(self, model, pk):
        """Return the columns READ of the model as they were; None for a new row."""
        if (state := self.written.get(model, {}).get(pk)) is None:
            return self.was[model].get(pk)
        return _decided([state[place] for place in _places_of(model)])

    def note(self, model, pk, now):
        """Note the columns as they are; return whether they differ from those before."""
        self.counted[model][pk] = now
        return self.of(model, pk) != now


@cache
def _places_of(model):
    return [columns_of(model).index(model._meta.get_field(name).column) for name in READ[model]]


def _decided(values):
    """Return columns as the database gives them; the journal has days as text."""
    return tuple(date.fromisoformat(one) if isinstance(one, str) and DAY.fullmatch(one) else one for one in values)


def _rows_now(model, keys, using):
    for condition in conditions_on("pk", keys):
        rows = model._base_manager.using(using).filter(**condition).order_by()
        for pk, *values in rows.values_list("pk", *READ[model]):
            yield pk, tuple(values)


def _moved(written, before, using):
    """Return the machines of which the area, the status or whether they are there may have changed."""
    machines = written.get(Machine, ())
    found = _machines_of(written.get(AwayPeriod, {}), using)
    there = dict(_rows_now(Machine, machines, using))
    return found | {pk for pk in machines if pk not in there or before.note(Machine, pk, there[pk])}


def _machines_of(periods, using):
    """Return the machines of written periods away, which never name another."""
    at = columns_of(AwayPeriod).index("machine_id")
    found = {int(state[at]) for state in periods.values() if state is not None}
    for condition in conditions_on("pk", periods):
        found.update(AwayPeriod.objects.using(using).filter(**condition).order_by().values_list("machine", flat=True))
    return found


def _changed_work(keys, before, using):
    """Map machines to the Work of their written inspections as it was and is, where the two differ."""
    found, there = defaultdict(set), dict(_rows_now(Inspection, keys, using))
    for pk in keys:
        was, now = before.of(Inspection, pk), there.get(pk)
        if was != now:
            for machine, *work in filter(None, (was, now)):
                found[machine].add(Work(*work))
        if now is not None:
            before.note(Inspection, pk, now)
    return found


def _work_of(machines, using):
    """Map machines to the Work of all their inspections that are counted."""
    found = defaultdict(set)
    for condition in conditions_on("machine", machines):
        rows = Inspection.objects.using(using).filter(**condition, stage__in=(*OPEN_STAGES, *SIGNED_STAGES))
        for machine, *work in rows.order_by().values_list(*READ[Inspection]):
            found[machine].add(Work(*work))
    return found


def _places(machines, before, using):
    """Map machines to where they are, and were before they were written."""
    found = defaultdict(set)
    for condition in conditions_on("pk", machines):
        rows = Machine._base_manager.using(using).filter(**condition).order_by()
        for pk, area, site in rows.values_list("pk", "area", "area__site"):
            found[pk].add(Place(area, site))
    was = {pk: state[0] for pk in machines if (state := before.of(Machine, pk))}
    sites = dict(Area.objects.using(using).filter(pk__in=set(was.values())).values_list("pk", "site")) if was else {}
    for pk, area in was.items():
        found[pk].add(Place(area, sites[area]))
    return found


def _open_work(work, place):
    if work.stage in OPEN_STAGES:
        return Bucket(OPEN_WORK.name, place.site, work.stage, work.due_on, work.closes_on)
    return None


def _numbers_open(buckets, using):
    rows = Inspection.objects.using(using).open()
    if buckets is not None:
        sites, stages, days, ends = ({bucket[place] for bucket in buckets} for place in range(1, 5))
        rows = rows.filter(stage__in=stages, due_on__in=days, closes_on__in=ends, machine__area__site__in=sites)
    counted = rows.order_by().values_list("machine__area__site", "stage", "due_on", "closes_on").annotate(n=Count("*"))
    return {Bucket(OPEN_WORK.name, *values): number for *values, number in counted}


def _signed_in(stage):
    """Return the function that returns the bucket of an inspection of this stage, which is the name of its tally."""
    return lambda work, place: Bucket(stage, place.site, str(work.signed_by)) if work.stage == stage else None


def _numbers_signed(stage, buckets, using):
    rows = Inspection.objects.using(using).with_signature().filter(stage=stage)
    if buckets is not None:
        people, sites = {int(one.what) for one in buckets}, {one.location for one in buckets}
        rows = rows.filter(signed_by__in=people, machine__area__site__in=sites)
    counted = rows.order_by().values_list("machine__area__site", "signed_by").annotate(n=Count("*"))
    return {Bucket(stage, site, str(person)): number for site, person, number in counted}


def _booked_away(work, place):
    if work.stage in OPEN_STAGES and work.booked_on:
        return Bucket(BOOKED_AWAY.name, place.area, day=work.booked_on)
    return None


def _numbers_booked_away(buckets, using):
    there = Machine.objects.using(using).at_hand()
    rows = Inspection.objects.using(using).open().filter(booked_on__isnull=False)
    if buckets is not None:
        there = there.filter(area__in={one.location for one in buckets})
        rows = Inspection.objects.using(using).to_do_on({one.day for one in buckets})
    counted = rows.filter(machine__in=there.order_by()).order_by().values_list("machine__area", "booked_on")
    return {
        Bucket(BOOKED_AWAY.name, area, day=day): number
        for area, day, number in counted.annotate(n=Count("machine", distinct=True))
    }


def _numbers_at_hand(buckets, using):
    rows = Machine.objects.using(using).at_hand()
    if buckets is not None:
        rows = rows.filter(area__in={one.location for one in buckets})
    counted = rows.order_by().values_list("area").annotate(n=Count("*"))
    return {Bucket(AT_HAND.name, area): number for area, number in counted}


# Open inspections by site, stage, due date and last day; those signed once, and twice, by site and first signer;
# machines that are at hand by area, and those of them that are booked by area and day.
OPEN_WORK = Tally("open", _open_work, _numbers_open)
SIGNED_ONCE = Tally("signed", _signed_in("signed"), partial(_numbers_signed, "signed"))
SIGNED_TWICE = Tally("countersigned", _signed_in("countersigned"), partial(_numbers_signed, "countersigned"))
BOOKED_AWAY = Tally("booked", _booked_away, _numbers_booked_away)
AT_HAND = Tally("at hand", None, _numbers_at_hand)
TALLIES = (OPEN_WORK, SIGNED_ONCE, SIGNED_TWICE, BOOKED_AWAY, AT_HAND)
OF_WORK = tuple(tally for tally in TALLIES if tally.of_work)
