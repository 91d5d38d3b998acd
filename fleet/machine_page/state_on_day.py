"""What a machine page says of a day: status, safety features by class, and components."""

from dataclasses import dataclass

from fleet.catalogue import FEATURES, Feature, FeatureClass
from fleet.catalogue.gaps import Judged, Standing, judge_feature
from fleet.models import (
    AreaPeriod,
    Component,
    FeatureState,
    ModelFeature,
    State,
    StatusChange,
)

CLASS_TITLES = {
    FeatureClass.ESSENTIAL: "Essential",
    FeatureClass.EXPECTED: "Expected",
    FeatureClass.DESIRABLE: "Desirable",
    FeatureClass.UNWANTED: "Unwanted",
}
MOST_PRESSING = (Standing.GAP, Standing.DOUBT, Standing.COVERED, Standing.REPLACED, Standing.DOES_NOT_APPLY)


@dataclass(frozen=True, slots=True)
class FeatureLine:
    """A feature on this machine: the recorded state (None = nothing recorded) and its meaning here."""

    feature: Feature
    row: FeatureState | ModelFeature | None
    judged: Judged

    @property
    def state(self):
        return State(self.row.state).label if self.row else State.NOT_KNOWN.label

    @property
    def mark(self):
        """Return the word whose drawn mark shows the state; an unwanted feature that is fitted has its own."""
        return "unwanted" if self.is_gap and self.feature.is_unwanted else self.state

    @property
    def is_gap(self):
        return self.judged.standing is Standing.GAP

    @property
    def is_doubt(self):
        return self.judged.standing is Standing.DOUBT

    @property
    def matters(self):
        return self.judged.standing is not Standing.DOES_NOT_APPLY


@dataclass(frozen=True, slots=True)
class FeatureGroup:
    """The features of one class, the most urgent first."""

    title: str
    lines: tuple[FeatureLine, ...]
    is_pressing: bool

    @property
    def gaps(self):
        return [line for line in self.lines if line.is_gap]

    @property
    def doubts(self):
        return [line for line in self.lines if line.is_doubt]


def feature_lines(machine, day):
    """Return every feature of the catalogue with its state on this machine on the date `day`; one query."""
    rows = {row.feature: row for row in FeatureState.objects.on(day).filter(machine=machine)}
    states = {code: row.state for code, row in rows.items()}
    equipment = machine.model.equipment
    return [FeatureLine(f, rows.get(code), judge_feature(f, states, equipment)) for code, f in FEATURES.items()]


def feature_groups(machine, day):
    return _grouped(feature_lines(machine, day))


def _grouped(lines):
    groups = []
    for feature_class, title in CLASS_TITLES.items():
        own = [line for line in lines if line.feature.feature_class is feature_class]
        own.sort(key=lambda line: MOST_PRESSING.index(line.judged.standing))
        groups.append(FeatureGroup(title, tuple(own), feature_class is not FeatureClass.DESIRABLE))
    return groups


def default_groups(model):
    """Return the features of a machine model when new, grouped as on a machine page."""
    rows = {row.feature: row for row in model.features.all()}
    states = {code: row.state for code, row in rows.items()}
    lines = [FeatureLine(f, rows.get(code), judge_feature(f, states, model.equipment)) for code, f in FEATURES.items()]
    return _grouped(lines)


def status_on(machine, day):
    """The change of status in force at the end of `day`, or None before the first day of use."""
    changes = StatusChange.objects.filter(machine=machine, changed_on__lte=day).select_related("by")
    return changes.order_by("-changed_on", "-recorded_at", "-pk").first()


def area_on_day(machine, day):
    """The area in which the machine was at the end of `day`; that of today where none is recorded."""
    period = AreaPeriod.objects.on(day).filter(machine=machine).select_related("area__site").first()
    return period.area if period else machine.area


def components_on(machine, day):
    return Component.objects.on(day).filter(machine=machine)
