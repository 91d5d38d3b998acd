"""The numbers of a cover report, from a few grouped queries."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from fleet.catalogue import HAZARDS, Feature, FeatureClass, Hazard
from fleet.catalogue.gaps import Judged, Standing, bad_state, good_state, judge_feature
from fleet.cover_report import queries
from fleet.cover_report.by_circuit import CircuitView, circuit_view
from fleet.cover_report.by_rows import few_changed_since, grouped, grouped_on
from fleet.cover_report.criteria import CoverFilter
from fleet.current_state.reading import is_kept
from fleet.models import FeatureState


@dataclass(frozen=True, slots=True)
class FeatureTotal:
    """One safety feature over all machines of the filter; the five counts add up to the machines."""

    feature: Feature
    covered: int
    gap: int
    doubt: int
    replaced: int
    does_not_apply: int

    @property
    def fitted(self) -> int:
        """Return the machines recorded as having it; for an unwanted feature those are its gaps."""
        return self.gap if self.feature.is_unwanted else self.covered

    @property
    def not_fitted(self) -> int:
        return self.covered if self.feature.is_unwanted else self.gap

    @property
    def applies(self) -> int:
        return self.covered + self.gap + self.doubt + self.replaced

    @property
    def gap_share(self) -> float | None:
        """Return the share of machines without it among those where it applies, 0 to 1; None if it applies to none."""
        return self.gap / self.applies if self.applies else None


@dataclass(frozen=True, slots=True)
class HazardTotal:
    """A hazard, the features of the report that cover it, and the machines that lack at least one of them."""

    hazard: Hazard
    features: tuple[Feature, ...]
    machines: int
    share: float


@dataclass(frozen=True, slots=True)
class PlaceTotal:
    """Machines of a site or an area, those with a gap among the subject features, and the total of gaps."""

    pk: int
    name: str
    machines: int
    with_gap: int
    gaps: int

    @property
    def share(self) -> float:
        return self.with_gap / self.machines if self.machines else 0.0


@dataclass(frozen=True, slots=True)
class SiteTotal(PlaceTotal):
    """A site with its areas."""

    areas: tuple[PlaceTotal, ...] = ()


CELL_WORDS = {
    Standing.COVERED: "fitted",
    Standing.GAP: "not fitted",
    Standing.DOUBT: "not known",
    Standing.REPLACED: "replaced",
    Standing.DOES_NOT_APPLY: "does not apply",
}


@dataclass(frozen=True, slots=True)
class Cell:
    """The standing of one safety feature on one machine."""

    feature: Feature
    judged: Judged
    starts_class: bool = False

    @property
    def key(self) -> tuple:
        """Return what is equal for cells that are shown alike."""
        return self.feature.code, self.judged, self.starts_class

    @property
    def word(self) -> str:
        """Return the state as text, also the name of its mark: an unwanted feature is "unwanted" or "absent"."""
        if self.feature.is_unwanted and self.judged.standing is Standing.GAP:
            return "unwanted"
        if self.feature.is_unwanted and self.judged.standing is Standing.COVERED:
            return "absent"
        return CELL_WORDS[self.judged.standing]

    @property
    def is_counted_gap(self) -> bool:
        """Return whether it is a gap that counts: a missing desirable feature is shown, not counted."""
        return self.judged.is_gap and self.feature.feature_class is not FeatureClass.DESIRABLE

    @property
    def sentence(self) -> str:
        """Return the state with its reason, such as "replaced: electronic mixing does its job"."""
        return f"{self.word}: {self.judged.reason}" if self.judged.reason else self.word


@dataclass(frozen=True, slots=True)
class MachineRow:
    """One row of the matrix: a machine with the standing of every column."""

    machine: object
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class CoverReport:
    """All content of the report except the matrix. `circuits` exists for today only."""

    wanted: CoverFilter
    machines: int
    totals: tuple[FeatureTotal, ...]
    hazards: tuple[HazardTotal, ...]
    sites: tuple[SiteTotal, ...]
    circuits: CircuitView | None = None

    @property
    def gaps(self) -> int:
        """Return the number of gaps in all features that count."""
        return sum(total.gap for total in self._counted)

    @property
    def doubts(self) -> int:
        """Entries not known, where a safety feature that counts applies."""
        return sum(total.doubt for total in self._counted)

    @property
    def _counted(self):
        return [total for total in self.totals if total.feature in self.wanted.counted]

    @property
    def with_gap(self) -> int:
        """Return the machines with a gap among the subject features."""
        return sum(site.with_gap for site in self.sites)

    @property
    def classes(self) -> list[tuple[FeatureClass, list[FeatureTotal]]]:
        """Return the totals grouped by class, in order."""
        grouped = groupby(self.totals, key=lambda total: total.feature.feature_class)
        return [(each, list(totals)) for each, totals in grouped]


def build_report(machines, wanted: CoverFilter, unneeded: queries.Unneeded) -> CoverReport:
    """Return the totals over all of `machines`, a queryset; at most eight queries."""
    if unneeded.has_current(wanted):
        return _report_of_groups(machines, wanted, grouped(machines, unneeded.equipment))
    if wanted.is_past and is_kept() and few_changed_since(wanted.on):
        return _report_of_groups(machines, wanted, grouped_on(machines, unneeded.equipment, wanted.on))
    totals = feature_totals(machines, wanted, unneeded)
    sites = place_totals(machines, wanted, unneeded)
    count = sum(site.machines for site in sites)
    circuits = circuit_view(machines, sites, wanted.hazard) if not wanted.is_past else None
    return CoverReport(wanted, count, totals, hazard_totals(machines, wanted, unneeded, count), sites, circuits)


def _report_of_groups(machines, wanted, groups):
    """Return the report from groups of machines, in a query for the names of the areas."""
    totals = tuple(_total_of(each, groups.of_feature(each)) for each in wanted.columns)
    sites = _sites(queries.named_areas(groups.by_area()), groups.gaps_by_area(wanted.subject))
    count = sum(site.machines for site in sites)
    by_hazard = _by_hazard(wanted)
    hazards = _hazards(by_hazard, {code: groups.with_gap(found) for code, found in by_hazard.items()}, count)
    circuits = circuit_view(machines, sites, wanted.hazard) if not wanted.is_past else None
    return CoverReport(wanted, count, totals, hazards, sites, circuits)


def _total_of(feature, standings):
    return FeatureTotal(
        feature=feature, covered=standings[Standing.COVERED], gap=standings[Standing.GAP],
        doubt=standings[Standing.DOUBT], replaced=standings[Standing.REPLACED],
        does_not_apply=standings[Standing.DOES_NOT_APPLY],
    )  # fmt: skip


def feature_totals(machines, wanted, unneeded) -> tuple[FeatureTotal, ...]:
    """Return the standing of each column."""
    groups = queries.machine_groups(machines, wanted.columns, wanted.on)
    known = {}
    for code, state, model, is_replaced, n in queries.state_groups(machines, wanted.columns, wanted.on):
        known.setdefault(code, []).append((state, model, bool(is_replaced), n))
    return tuple(_total(each, groups, known.get(each.code, []), unneeded.models(each)) for each in wanted.columns)


def _total(feature, groups, known, pointless):
    """Add up one feature. A fitted one counts as covered even where it is not needed, unless it is unwanted."""
    elsewhere = sum(n for model, _, n in groups if model in pointless)
    needed = sum(n for model, _, n in groups) - elsewhere
    could_be_replaced = sum(
        n for model, flags, n in groups if model not in pointless and flags.get(feature.fulfilled_by, False)
    )
    counted = {"fitted": 0, "not fitted": 0}
    replaced_fitted = fitted_elsewhere = replaced_not_fitted = 0
    for state, model, is_replaced, n in known:
        if model in pointless:
            fitted_elsewhere += n if state == "fitted" and not feature.is_unwanted else 0
            continue
        counted[state] += n
        replaced_fitted += n if is_replaced and state == "fitted" else 0
        replaced_not_fitted += n if is_replaced and state == "not fitted" else 0
    good, bad = good_state(feature), bad_state(feature)
    replaced = could_be_replaced - replaced_fitted
    gap = counted[bad] - replaced_not_fitted
    return FeatureTotal(
        feature=feature,
        covered=counted[good] + fitted_elsewhere,
        gap=gap,
        doubt=needed - counted[good] - gap - replaced,
        replaced=replaced,
        does_not_apply=elsewhere - fitted_elsewhere,
    )


def hazard_totals(machines, wanted, unneeded, count) -> tuple[HazardTotal, ...]:
    """Return the hazards that the counted columns cover, the most exposed first; ties by weight."""
    by_hazard = _by_hazard(wanted)
    if not by_hazard:
        return ()
    return _hazards(by_hazard, queries.gap_counts_by_hazard(machines, by_hazard, wanted.on, unneeded), count)


def _by_hazard(wanted):
    """Return the counted columns that cover each hazard, by its code."""
    found = {code: [feature for feature in wanted.counted if code in feature.hazards] for code in HAZARDS}
    return {code: features for code, features in found.items() if features}


def _hazards(by_hazard, counts, count):
    found = [
        HazardTotal(HAZARDS[code], tuple(features), counts[code], counts[code] / count if count else 0.0)
        for code, features in by_hazard.items()
    ]
    return tuple(sorted(found, key=lambda total: (-total.machines, -total.hazard.weight, total.hazard.name)))


def place_totals(machines, wanted, unneeded) -> tuple[SiteTotal, ...]:
    """Return the sites and their areas with their gaps among the subject features."""
    gaps = queries.gap_counts_by_area(machines, wanted.subject, wanted, unneeded)
    return _sites(queries.machines_by_area(machines, wanted), gaps)


def _sites(counted, gaps):
    areas = [
        (site, site_name, PlaceTotal(area, name, n, *gaps.get(area, (0, 0))))
        for area, name, site_name, site, n in counted
    ]
    return tuple(
        _site(pk, name, tuple(area for _, _, area in members))
        for (pk, name), members in groupby(areas, key=lambda row: row[:2])
    )


def _site(pk, name, areas):
    sums = [sum(getattr(area, field) for area in areas) for field in ("machines", "with_gap", "gaps")]
    return SiteTotal(pk, name, *sums, areas)


def machine_rows(machines: Iterable, wanted: CoverFilter, chunk: int = 500) -> Iterator[MachineRow]:
    """Yield the rows of the matrix, reading states in chunks; machines are fetched with model, area and site."""
    for batch in _batches(machines, chunk):
        states = FeatureState.objects.by_machine(batch, wanted.on)
        for machine in queries.at_areas_then(batch, wanted):
            yield _machine_row(machine, states[machine.pk], wanted.columns)


def _machine_row(machine, states, columns: Sequence[Feature]):
    equipment = machine.model.equipment
    before = [None, *(each.feature_class for each in columns)]
    cells = (
        Cell(each, judge_feature(each, states, equipment), each.feature_class != last)
        for each, last in zip(columns, before, strict=False)
    )
    return MachineRow(machine, tuple(cells))


def _batches(machines, size):
    batch = []
    for machine in machines:
        batch.append(machine)
        if len(batch) == size:
            yield batch
            batch = []
    if batch:
        yield batch
