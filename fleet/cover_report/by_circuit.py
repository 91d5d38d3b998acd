"""The cover report by circuit: which hazards the computed gas circuits leave open, on how many machines, where."""

from dataclasses import dataclass
from datetime import datetime

from fleet.catalogue import HAZARDS, Hazard
from fleet.models import MachineCover


@dataclass(frozen=True, slots=True)
class OpenHazardTotal:
    """A hazard, the machines with at least one cause that leaves it open, and those where such a cause is not rare.

    closable  machines on which a feature that they lack would close such a cause that is not rare
    share     of the machines with a computed circuit, 0 to 1
    """

    hazard: Hazard
    machines: int
    likely: int
    closable: int
    share: float


@dataclass(frozen=True, slots=True)
class CircuitPlace:
    """Machines of a place, those with a computed circuit, those with an open hazard.

    counts  by hazard of the view: machines on which it is open, and those on which a missing feature would close a
            cause that is not rare
    """

    pk: int
    name: str
    machines: int
    computed: int
    exposed: int
    counts: tuple[tuple[int, int], ...]
    areas: tuple["CircuitPlace", ...] = ()

    @property
    def unknown(self) -> int:
        """Return the machines without a computed table: they count as neither open nor closed."""
        return self.machines - self.computed


@dataclass(frozen=True, slots=True)
class CircuitView:
    """Open hazards over all machines of a report; `counts` of places are in the order of `hazards`.

    failed        machines whose circuit could not be computed
    oldest        when the oldest of the tables was computed, None without any
    """

    hazards: tuple[OpenHazardTotal, ...]
    sites: tuple[CircuitPlace, ...]
    machines: int
    computed: int
    failed: int
    exposed: int
    oldest: datetime | None

    @property
    def missing(self) -> int:
        """Machines that are not computed yet."""
        return self.machines - self.computed - self.failed


def circuit_view(machines, sites, hazard="") -> CircuitView:
    """Return the view over `machines`, a queryset, whose places are `sites` of the report; two queries.

    hazard  code of the only hazard to report; empty for all
    """
    covers = MachineCover.objects.of_machines(machines)
    counted = {area: row for area, *row in covers.counted_by_area()}
    opened = {}
    for area, code, *numbers in covers.open_by_area():
        if not hazard or code == hazard:
            opened.setdefault(code, {})[area] = tuple(numbers)
    codes = sorted(opened, key=lambda code: (-_sum(opened[code], 2), -_sum(opened[code], 0), -HAZARDS[code].weight))
    places = tuple(_site(site, codes, counted, opened) for site in sites)
    computed, failed = (sum(row[at] for row in counted.values()) for at in (0, 1))
    return CircuitView(
        hazards=tuple(_total(code, opened[code], computed) for code in codes),
        sites=places,
        machines=sum(place.machines for place in places),
        computed=computed,
        failed=failed,
        exposed=sum(place.exposed for place in places),
        oldest=min((row[3] for row in counted.values() if row[3]), default=None),
    )


def _total(code, by_area, computed):
    count = _sum(by_area, 0)
    share = count / computed if computed else 0.0
    return OpenHazardTotal(HAZARDS[code], count, _sum(by_area, 1), _sum(by_area, 2), share)


def _sum(by_area, at):
    return sum(row[at] for row in by_area.values())


def _site(site, codes, counted, opened):
    areas = tuple(_area(area, codes, counted.get(area.pk, (0, 0, 0, None)), opened) for area in site.areas)
    counts = tuple(tuple(sum(area.counts[at][n] for area in areas) for n in (0, 1)) for at in range(len(codes)))
    computed, exposed = (sum(getattr(area, name) for area in areas) for name in ("computed", "exposed"))
    return CircuitPlace(site.pk, site.name, site.machines, computed, exposed, counts, areas)


def _area(area, codes, row, opened):
    counts = tuple(opened[code].get(area.pk, (0, 0, 0))[::2] for code in codes)
    return CircuitPlace(area.pk, area.name, area.machines, row[0], row[2], counts)


def open_hazards_of(machines) -> dict[int, list[str] | None]:
    """Return by machine key the codes of its open hazards, None where nothing is computed; one query."""
    found = {machine.pk: None for machine in machines}
    rows = MachineCover.objects.computed().filter(machine__in=list(found)).order_by("cover__hazards__pk")
    for machine, code, count in rows.values_list("machine", "cover__hazards__hazard", "cover__hazards__open"):
        found[machine] = [*(found[machine] or []), *([code] if count else [])]
    return found
