"""The lists of the cover report that are one click away: what the fleet lacks, and what is not known."""

from dataclasses import dataclass, replace

from django.db.models import Count

from fleet.catalogue import FEATURES, FeatureClass
from fleet.catalogue.feature_bits import mask_of
from fleet.catalogue.gaps import Standing
from fleet.cover_report.by_rows import gaps_and_doubts
from fleet.cover_report.criteria import CoverFilter
from fleet.cover_report.queries import Unneeded, select_machines
from fleet.models import CurrentState, FeatureState

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
    wanted = CoverFilter(on=today, today=today)
    if unneeded.has_current(wanted):
        gaps, doubts = _counted_by_rows(wanted, person)
    else:
        gaps, doubts = _counted(wanted, person, unneeded)
    by_weight = sorted(gaps, key=lambda row: (-row[1], LISTED.index(FEATURES[row[0]].feature_class), row[0]))
    found = [_lacking(FEATURES[code], machines) for code, machines in by_weight[:MOST]]
    return [*found, Shortlist("Not known", {"standing": str(Standing.DOUBT)}, doubts)]


def _counted_by_rows(wanted, person):
    """Return (feature, machines) of every gap, and the machines with a doubt, in one query."""
    counted = mask_of(feature.code for feature in wanted.counted)
    states = CurrentState.objects.visible_to(person) if person else CurrentState.objects.all()
    of_feature, doubts = gaps_and_doubts(states.not_retired(), counted)
    return [(code, n) for code, n in of_feature.items() if n and FEATURES[code].feature_class in LISTED], doubts


def _counted(wanted, person, unneeded):
    """Return the same from the history."""
    features = [feature for feature in FEATURES.values() if feature.feature_class in LISTED]
    machines = select_machines(wanted, person, unneeded)
    gaps = FeatureState.objects.gaps(features, wanted.on, unneeded).filter(machine__in=machines.order_by().values("pk"))
    doubtful = select_machines(replace(wanted, standing=str(Standing.DOUBT)), person, unneeded)
    return list(gaps.values_list("feature").annotate(n=Count("machine", distinct=True))), doubtful.count()


def _lacking(feature, machines):
    word = "present" if feature.is_unwanted else "not fitted"
    return Shortlist(f"{feature.name}: {word}", {"feature": feature.code, "standing": str(Standing.GAP)}, machines)
