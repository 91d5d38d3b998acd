"""The lists of the cover report that are one click away: what the fleet lacks, and what is not known."""

from dataclasses import dataclass

from django.db.models import Count

from fleet.catalogue import FEATURES, FeatureClass
from fleet.catalogue.gaps import Standing
from fleet.cover_report.criteria import CoverFilter
from fleet.cover_report.queries import Unneeded, select_machines
from fleet.models import FeatureState

LISTED = (FeatureClass.ESSENTIAL, FeatureClass.UNWANTED, FeatureClass.EXPECTED)  # tie-break
MOST = 8


@dataclass(frozen=True, slots=True)
class Shortlist:
    """A link to a filtered list: its text, its query parameters and its number of machines."""

    label: str
    query: dict[str, str]
    machines: int

    def matches(self, wanted: CoverFilter) -> bool:
        """Return whether `wanted` is exactly this list."""
        return all(getattr(wanted, key) == self.query.get(key, "") for key in ("feature", "standing"))


def shortlists(person, today, unneeded: Unneeded | None = None) -> list[Shortlist]:
    """Return the safety features that most machines lack today, and the list of what is not known; three queries.

    They follow from the catalogue: every essential or expected feature that some machine lacks, and every unwanted
    one that some machine has, up to MOST of them.
    """
    unneeded = unneeded or Unneeded()
    found = [_lacking(FEATURES[code], machines) for code, machines in _gaps(person, today, unneeded)]
    return [*found, _not_known(person, today, unneeded)]


def _gaps(person, today, unneeded):
    features = [feature for feature in FEATURES.values() if feature.feature_class in LISTED]
    machines = select_machines(CoverFilter(on=today, today=today), person, unneeded)
    gaps = FeatureState.objects.gaps(features, today, unneeded).filter(machine__in=machines.order_by().values("pk"))
    counts = gaps.values_list("feature").annotate(n=Count("machine", distinct=True))
    by_weight = sorted(counts, key=lambda row: (-row[1], LISTED.index(FEATURES[row[0]].feature_class), row[0]))
    return by_weight[:MOST]


def _lacking(feature, machines):
    word = "present" if feature.is_unwanted else "not fitted"
    return Shortlist(f"{feature.name}: {word}", {"feature": feature.code, "standing": str(Standing.GAP)}, machines)


def _not_known(person, today, unneeded):
    query = {"standing": str(Standing.DOUBT)}
    machines = select_machines(CoverFilter(on=today, today=today, **query), person, unneeded).count()
    return Shortlist("Not known", query, machines)
