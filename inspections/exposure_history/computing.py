"""Compute the exposure by hazard at the end of each quarter, past and ahead, as data that is stored."""

from collections import defaultdict
from datetime import timedelta

from django.db.models import Min

from fleet.catalogue import HAZARDS
from fleet.models import Machine, MachineStatus, StatusChange
from inspections.exposure_history.ahead import Ahead, choices_of, decisions_of, shares_open
from inspections.exposure_history.circuits_on_days import CircuitsOnDays, machines_of
from inspections.exposure_history.drift import chances_outside
from inspections.planning.exposure_sums import Standing, quarter_ends, summed
from inspections.retirement.weights import weights_of_sites

MOST_QUARTERS = 40  # ten years back at most
AHEAD_DAYS = 5 * 366
CHUNK = 250
DIGITS = 3


def compute_exposure(person, site, choice, *, today, at, tell):
    """Return the result of an ExposureHistory.

    person  who asked: only machines that they may see count; None for all
    tell    function of done, total and words, called often; an exception from it ends the work
    """
    keys = machines_of(person, site)
    days = _past_days(keys, today)
    course = _Course(days, at, tell)
    for first in range(0, len(keys), CHUNK):
        tell(first, len(keys), "Circuits on earlier days")
        course.add(keys[first : first + CHUNK])
    ahead = quarter_ends(today + timedelta(days=1), today + timedelta(days=AHEAD_DAYS))[:20]
    tell(len(keys), len(keys), "Looking ahead")
    return {
        "days": [day.isoformat() for day in days],
        "past": _result([summed(standings) for standings in course.standings]),
        "ahead_days": [day.isoformat() for day in ahead],
        "ahead": _ahead(course.now, choice, ahead),
        "circuits": {"computed": len(course.circuits.by_digest), "left": course.circuits.not_computed},
    }


def _past_days(keys, today):
    begin = Machine.objects.filter(pk__in=keys).aggregate(day=Min("in_use_from"))["day"] or today
    return (*quarter_ends(begin, today - timedelta(days=1))[-MOST_QUARTERS:], today)


class _Course:
    """Collects, for each day, the machines in service with what they left open; `now` keeps those of today."""

    def __init__(self, days, at, tell):
        self.days, self.circuits = days, CircuitsOnDays(days, at, tell)
        self.standings, self.now = [[] for _ in days], []

    def add(self, keys):
        machines = list(Machine.objects.with_place().filter(pk__in=keys).order_by("pk"))
        weights = weights_of_sites({machine.site for machine in machines})
        in_service, opened = _in_service(machines, self.days), self.circuits.of(machines)
        for machine in machines:
            own = weights[machine.site.pk].weights.hazards
            for place, is_there in enumerate(in_service[machine.pk]):
                if is_there:
                    is_open = opened[machine.pk][place] if machine.pk in opened else None
                    shares = None if is_open is None else dict.fromkeys(is_open.hazards, 1.0)
                    self.standings[place].append(Standing(own, shares))
            if in_service[machine.pk][-1]:
                self.now.append((machine.pk, Ahead(machine.asset_number, own, opened.get(machine.pk, [None])[-1])))


def _in_service(machines, days):
    """Return machine key -> for each day whether the machine was in service; one query."""
    changes = defaultdict(list)
    rows = StatusChange.objects.filter(machine__in=machines).order_by("changed_on", "recorded_at", "pk")
    for pk, day, status in rows.values_list("machine", "changed_on", "status"):
        changes[pk].append((day, status))
    found = {}
    for machine in machines:
        line = []
        for day in days:
            held = [status for changed_on, status in changes[machine.pk] if changed_on <= day]
            line.append(bool(held) and held[-1] == MachineStatus.IN_SERVICE and machine.in_use_from <= day)
        found[machine.pk] = line
    return found


def _ahead(now, choice, days):
    chosen = choices_of(choice)
    drift = {}
    for first in range(0, len(now), CHUNK):
        drift |= chances_outside([pk for pk, _ in now[first : first + CHUNK]], days)
    machines = [
        (Ahead(each.name, each.weights, each.is_open, drift.get(pk, {})), chosen.get(each.name)) for pk, each in now
    ]
    return {
        decision: _result([summed(_standings(machines, decision, place)) for place in range(len(days))])
        for decision in decisions_of(choice)
    }


def _standings(machines, decision, place):
    for machine, choice in machines:
        shares = shares_open(machine, choice, decision, place)
        if shares is not False:
            yield Standing(machine.weights, shares)


def _result(sums):
    """Return the sums of several days as data: a list for each hazard."""
    codes = [code for code in HAZARDS if any(each.machines.get(code) for each in sums)]
    return {
        "in_service": [each.in_service for each in sums],
        "known": [each.known for each in sums],
        "points": {code: [round(each.points.get(code, 0.0), DIGITS) for each in sums] for code in codes},
        "machines": {code: [round(each.machines.get(code, 0.0), DIGITS) for each in sums] for code in codes},
    }
