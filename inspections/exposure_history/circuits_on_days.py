"""Which hazards the circuits of machines left open on earlier days: computed only for the days after a change."""

from bisect import bisect_left
from collections import defaultdict
from dataclasses import dataclass, field

from fleet.circuit.cover_rows import Status
from fleet.circuit.digest import circuit_digest
from fleet.circuit.serialise import table_from_dict
from fleet.circuit.solution import NoSolution
from fleet.circuit.state import Likelihood
from fleet.circuits.covers.program_digest import rules
from fleet.circuits.covers.sharing import shared_circuit
from fleet.circuits.covers.storing import cover_of
from fleet.circuits.machine_circuit import circuits_of
from fleet.models import CircuitCover, Component, Connection, FeatureState, Machine
from inspections.retirement.closing_needs import closers_of

CHUNK = 100
MOST_NEW = 150  # circuits of earlier days that are computed in one run; the next run goes on


@dataclass(frozen=True, slots=True)
class Open:
    """What one circuit leaves open.

    hazards  those with an open cause that is not rare
    closers  hazard -> sets of features of which any one, as a whole, closes it
    behind   feature -> hazards that open if this feature alone does not work any more
    """

    hazards: frozenset
    closers: dict
    behind: dict


@dataclass
class CircuitsOnDays:
    """What machines leave open on days in order; `by_digest` holds each circuit once.

    tell  function of done, total and words, called while circuits are computed
    """

    days: tuple
    at: object
    tell: object
    by_digest: dict = field(default_factory=dict)
    computed: int = 0
    not_computed: int = 0

    def of(self, machines):
        """Return machine key -> Open or None for each of the days, None where there is no circuit that is computed."""
        wanted, found = _turning_points(machines, self.days), defaultdict(dict)
        by_key = {machine.pk: machine for machine in machines}
        for place, keys in sorted(wanted.items()):
            for first in range(0, len(keys), CHUNK):
                chosen = [by_key[key] for key in keys[first : first + CHUNK]]
                for pk, circuit in circuits_of(chosen, self.days[place]).items():
                    found[pk][place] = self._open(by_key[pk], circuit)
        return {pk: _carried(points, len(self.days)) for pk, points in found.items()}

    def _open(self, machine, found):
        if not found.can_be_solved:
            return None
        circuit = shared_circuit(machine, found)[0]
        digest = circuit_digest(circuit)
        if digest not in self.by_digest:
            self.by_digest[digest] = self._computed(circuit, digest)
        return self.by_digest[digest]

    def _computed(self, circuit, digest):
        is_stored = CircuitCover.objects.computed_by(rules()).filter(digest=digest).exists()
        if not is_stored and self.computed >= MOST_NEW:
            self.not_computed += 1
            return None
        self.computed += not is_stored
        try:
            cover, _ = cover_of(circuit, at=self.at, tell=self.tell)
        except NoSolution:
            return None
        return open_of(cover)


def open_of(cover):
    """Return what a stored cover leaves open."""
    hazards = frozenset(row.hazard for row in cover.hazards.all() if row.likely)
    behind = defaultdict(set)
    for row in table_from_dict(cover.table).first_rows:
        for feature in _that_alone_stop(row):
            behind[feature].add(row.hazard)
    return Open(hazards, closers_of(cover.closing), {feature: frozenset(each) for feature, each in behind.items()})


def _that_alone_stop(row):
    """Return the features without any of which a row would be open; none for one that is rare or would be alarmed."""
    is_stopped = row.status is Status.STOPPED and not row.told_by
    is_alone = len(row.stopped_by) == 1 or row.together
    return row.stopped_by if is_stopped and is_alone and row.cause.likelihood is not Likelihood.RARE else ()


def _turning_points(machines, days):
    """Map the place of a day to the machines whose circuit may differ from that on the day before it; five queries."""
    wanted = defaultdict(set)
    for machine in machines:
        _want(wanted, machine.pk, machine.in_use_from, days)
    keys = [machine.pk for machine in machines]
    for model, names in (
        (Component, ("fitted_on", "removed_on")),
        (Connection, ("fitted_on", "removed_on")),
        (FeatureState, ("from_date", "until_date")),
    ):
        for pk, *changed in model.objects.filter(machine__in=keys).order_by().values_list("machine", *names).distinct():
            for day in changed:
                if day:
                    _want(wanted, pk, day, days)
    first = {machine.pk: bisect_left(days, machine.in_use_from) for machine in machines}
    return {place: sorted(pk for pk in keys if first[pk] <= place) for place, keys in wanted.items()}


def _want(wanted, pk, day, days):
    place = bisect_left(days, day)
    if place < len(days):
        wanted[place].add(pk)


def _carried(points, number):
    """Return for each day what the last turning point before it says; None before the first."""
    line, held = [], None
    for place in range(number):
        held = points.get(place, held)
        line.append(held)
    return line


def machines_of(person, site):
    """Return the keys of the machines whose exposure counts, retired ones too: they were in service once."""
    rows = Machine.objects.visible_to(person) if person else Machine.objects.all()
    rows = rows.filter(area__site=site) if site else rows
    return list(rows.order_by("pk").values_list("pk", flat=True))
