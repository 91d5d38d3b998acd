"""The headings that divide the list of inspections, and how many there are under each."""

from datetime import timedelta
from functools import cache

from django.db.models import Case, Q, When

from fleet.models.querysets.prepared_queries import prepared
from inspections.kept_counts import work_counts
from inspections.models import Inspection
from inspections.models.querysets.inspections import (
    counting,
    counts_at_once,
    counts_of,
    has_signature,
    is_coming,
    is_incomplete,
    is_open,
    is_overdue,
    is_signed,
)
from inspections.schedule.recent_work import start_of

COUNTERSIGN = "inspections.countersign_inspection"
LABELS = {
    "due": "Due",
    "overdue": "Overdue",
    "booked": "Booked",
    "bench": "In progress",
    "countersign": "To countersign",
    "incomplete": "Incomplete",
    "signed": "Signed",
    "void": "Void",
}
NOT_COUNTED = ("signed", "incomplete", "void")  # what is done for good


class Headings:
    """The headings for one person on one day.

    asked        what the address asks for: `days`, `week`, `until` and `since`
    inspections  those that the rest of the address leaves
    """

    def __init__(self, person, today, asked, inspections):
        self.person, self.today, self.asked, self.inspections = person, today, asked, inspections

    def among(self, inspections):
        """Return the same headings of other inspections."""
        return Headings(self.person, self.today, self.asked, inspections)

    @property
    def labels(self):
        """Key and label of every heading; the person's own inspections come first."""
        own = {"mine": "My inspections"} if self.person.has_perm("inspections.enter_reading") else {}
        return own | LABELS

    def rows(self, name, *, by_machine=False):
        """The inspections under the heading `name`.

        by_machine  find them by the machines that they are narrowed to, which are few: the condition is written so that
                    no database takes an index for it
        """
        if not by_machine:
            return self.inspections.filter(self.condition(name))
        return self.inspections.alias(is_here=Case(When(self.condition(name), then=1))).filter(is_here=1)

    def condition(self, name):
        """What the inspections under the heading `name` fulfil."""
        return {
            **_open_work(self.person.pk, self.today, self._last_due, self._may_countersign),
            "booked": self._is_booked,
            "incomplete": lambda: self._is_incomplete() & self._since("signed_at"),
            "signed": lambda: has_signature() & self._since("signed_at"),
            "void": lambda: Q(stage="void") & self._since("voided_at"),
        }[name]()

    def counts(self, *, at_once=False, sites=None, names=()):
        """How many there are under each heading, in one query; what is done for good is not counted.

        at_once  read each of the inspections once: they are those of some machines. Else each heading has its index
        sites    keys of the sites whose inspections, all of them, these are; empty for every site, None for others
        names    the headings, if not all
        """
        counted = tuple(names) or tuple(name for name in self.labels if name not in NOT_COUNTED)
        found = {} if sites is None else self._kept_counts(counted, sites)
        left = tuple(name for name in counted if name not in found)
        if at_once and left:
            return found | counts_at_once(self.inspections, {name: self.condition(name) for name in left})
        if sites == [] and left and not self._asks_of_booked:
            counts = _counting_all(left, self._may_countersign)
            return found | dict.fromkeys(left, 0) | dict(counts(self.person.pk, self.today, self._last_due))
        return found | counts_of({name: self.rows(name) for name in left})

    def _kept_counts(self, names, sites):
        """Return the numbers of the headings among `names` for which they are kept."""
        kept = work_counts.HEADINGS
        names = tuple(one for one in names if one in kept and not (one == "booked" and self._asks_of_booked))
        not_by = self.person.pk if self._may_countersign else None
        values = {"today": self.today, "last_due": self._last_due, "not_by": not_by}
        return (names and work_counts.counted_work(names, sites, **values)) or {}

    @property
    def _asks_of_booked(self):
        return self.asked["week"] or self.asked["until"]

    def _is_incomplete(self):
        """Of one procedure with their stages, by which its index leaves out the many that are open."""
        return is_incomplete() & is_signed() if self.asked.get("procedure") else is_incomplete()

    @property
    def _last_due(self):
        return self.today + timedelta(days=self.asked["days"])

    @property
    def _may_countersign(self):
        return self.person.has_perm(COUNTERSIGN)

    def _is_booked(self):
        booked, week, until = _is_booked(), self.asked["week"], self.asked["until"]
        if week:
            monday = week - timedelta(days=week.weekday())
            booked &= Q(booked_on__range=(monday, monday + timedelta(days=6)))
        return booked & Q(booked_on__lte=until) if until else booked

    def _since(self, moment):
        day = self.asked["since"]
        return Q(**{f"{moment}__gte": start_of(day)}) if day else Q()


def open_work(person, today, days):
    """Return how many inspections are due within `days` and overdue, of those that `person` may see, in one query."""
    asked = {"days": days, "week": None, "until": None}
    headings = Headings(person, today, asked, Inspection.objects.visible_to(person))
    return headings.counts(sites=person.site_ids, names=("due", "overdue"))


def _open_work(person, today, last_due, may_countersign):
    """Return the conditions of the headings that are counted, each as a function, for the key of a person.

    What awaits a second signature is, for those who may give it, without what they signed themselves.
    """
    waiting = Q(stage="signed") & has_signature()
    return {
        "mine": lambda: is_open() & Q(technician=person),
        "due": lambda: is_coming(today, last_due),
        "overdue": lambda: is_overdue(today),
        "booked": _is_booked,
        "bench": lambda: Q(stage="on bench"),
        "countersign": lambda: waiting & ~Q(signed_by=person) if may_countersign else waiting,
    }


def _is_booked():
    return Q(stage="booked")


@cache
def _counting_all(names, may_countersign):
    """Return the prepared query that counts all inspections under the headings."""

    def counts(person, today, last_due):
        conditions = _open_work(person, today, last_due, may_countersign)
        return counting({name: Inspection.objects.filter(conditions[name]()) for name in names})

    return prepared(counts)
