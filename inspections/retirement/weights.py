"""Which weights rank the machines of a site: its own, or those of the data."""

from dataclasses import dataclass

from fleet.catalogue import HAZARDS
from fleet.documents.phrases import lower_first
from fleet.models import Site
from inspections.models import ReviewWeights
from inspections.review import DEFAULT_WEIGHTS, HAZARD_WEIGHTS, PARTS, Weights


@dataclass(frozen=True, slots=True)
class WeightsOfSite:
    """The weights in force at a site; `row` says who set them, None for those of the data."""

    site: Site
    weights: Weights
    row: ReviewWeights | None = None

    @property
    def in_words(self):
        """Such as “St Aubrey's: weights set by Ana Silva on 2 Nov 2026, because …”."""
        if self.row is None:
            return f"{self.site}: the default weights."
        changed = ", ".join(f"{name} {value:g}" for name, value in self.changed) or "none differs from the default"
        return (
            f"{self.site}: weights set by {self.row.by} on {self.site.date_of(self.row.at)} ({self.row.reason}). "
            f"Other than the default: {changed}."
        )

    @property
    def changed(self):
        """(name, weight) of those that differ from the default."""
        hazards = [(HAZARDS[code].name, value, HAZARD_WEIGHTS[code]) for code, value in self.weights.hazards.items()]
        burden = [(PARTS[code].name, value, DEFAULT_WEIGHTS[code]) for code, value in self.weights.burden.items()]
        return [(name, value) for name, value, default in hazards + burden if value != default]


def weights_of_sites(sites) -> dict[int, WeightsOfSite]:
    """Map the keys of sites to the weights in force there; one query."""
    rows = ReviewWeights.objects.filter(site__in=[site.pk for site in sites]).select_related("by").order_by("at", "pk")
    latest = {row.site_id: row for row in rows}
    return {site.pk: _in_force(site, latest.get(site.pk)) for site in sites}


def _in_force(site, row):
    if row is None:
        return WeightsOfSite(site, Weights())
    return WeightsOfSite(site, Weights(_read(row.hazards, HAZARD_WEIGHTS), _read(row.burden, DEFAULT_WEIGHTS)), row)


def _read(stored, defaults):
    """The stored weights of what the program knows; what came later has its default."""
    return {code: float(stored.get(code, default)) for code, default in defaults.items()}


def default_words():
    """The default severity weights in one sentence."""
    weights = ", ".join(f"{lower_first(HAZARDS[code].name)} {value:g}" for code, value in HAZARD_WEIGHTS.items())
    return f"Default severity weights: {weights}."
