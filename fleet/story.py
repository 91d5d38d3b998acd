"""The content of a machine page: status, features and components on a day, and the history."""

from dataclasses import dataclass
from datetime import datetime, time
from zoneinfo import ZoneInfo

from django.db.models import F

from fleet.catalogue import FEATURES, Feature, FeatureClass
from fleet.gaps import Judged, Standing, judge_feature
from fleet.models import (
    CircuitChange,
    Component,
    Duty,
    DutyChange,
    EarlierInspection,
    Evidence,
    FeatureState,
    ModelFeature,
    State,
)
from fleet.panels import Event

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


def duty_on(machine, day):
    """Return the change of status that held at the end of `day`, or None before the machine's first day."""
    changes = DutyChange.objects.filter(machine=machine, changed_on__lte=day).select_related("by")
    return changes.order_by("-changed_on", "-recorded_at", "-pk").first()


def components_on(machine, day):
    return Component.objects.on(day).filter(machine=machine)


def register_events(machine, limit):
    """Return the newest events of the register, at most `limit` of each kind, without the model's defaults."""
    zone = ZoneInfo(machine.site.time_zone)
    return [
        *_duty_events(machine, zone, limit),
        *_feature_events(machine, zone, limit),
        *_part_events(machine, zone, limit),
        *_circuit_events(machine, zone, limit),
        *_earlier_events(machine, zone, limit),
    ]


def newest_first(events, limit):
    return sorted(events, key=lambda event: event.at, reverse=True)[:limit]


def _duty_events(machine, zone, limit):
    changes = DutyChange.objects.filter(machine=machine).select_related("by")[:limit]
    for change in changes:
        detail = f"{change.reason} ({change.evidence})" if change.evidence else change.reason
        at = _moment(change.changed_on, change.recorded_at, zone)
        yield Event(at, Duty(change.duty).label, detail, str(change.by or ""), Duty(change.duty).label)


def _feature_events(machine, zone, limit):
    rows = FeatureState.objects.filter(machine=machine).exclude(evidence=Evidence.MODEL_DEFAULT).select_related("by")
    for row in rows.order_by("-from_date", "-pk")[:limit]:
        state = State(row.state).label
        title = f"{row.catalogue_entry.name}: {state.lower()}"
        if row.until_date == row.from_date:
            title += " (corrected since)"
        detail = f"{Evidence(row.evidence).label}. {row.note}" if row.note else Evidence(row.evidence).label
        yield Event(_moment(row.from_date, row.recorded_at, zone), title, detail, str(row.by or ""), state)


def _part_events(machine, zone, limit):
    """Return events of components that came from a list; a change of the circuit has its own event."""
    parts = Component.objects.filter(machine=machine)
    fitted = parts.filter(fitted_in=None).exclude(fitted_on=machine.in_use_from)
    for part in fitted.order_by("-fitted_on", "-pk")[:limit]:
        yield Event(_moment(part.fitted_on, None, zone), f"{part} fitted", _plate(part))
    removed = parts.filter(removed_in=None, fitted_in=None).exclude(removed_on=None)
    for part in removed.order_by(F("removed_on").desc(), "-pk")[:limit]:
        yield Event(_moment(part.removed_on, None, zone), f"{part} removed", _plate(part))


def _circuit_events(machine, zone, limit):
    changes = CircuitChange.objects.filter(machine=machine).exclude(verb=CircuitChange.Verb.COPIED)
    for change in changes.select_related("by", "undone_by")[:limit]:
        detail = change.evidence
        if change.undone_at:
            detail = f"Undone since, by {change.undone_by or 'nobody named'}: {change.undone_reason}"
        yield Event(_moment(change.changed_on, change.recorded_at, zone), change.words, detail, str(change.by or ""))


def _earlier_events(machine, zone, limit):
    """Return events of earlier inspections, without the mark of a decision, because Bobbin judged none of them."""
    for one in EarlierInspection.objects.filter(machine=machine)[:limit]:
        told = (("result", one.result), ("record", one.reference), ("from", one.source))
        detail = ", ".join(f"{name} {value}" for name, value in told if value)
        yield Event(_moment(one.done_on, None, zone), f"{one.procedure} (recorded elsewhere)", detail, one.done_by)


def _plate(part):
    told = (("part", part.maker_part), ("serial", part.serial), ("lot", part.lot))
    return ", ".join([part.catalogue_entry.name, *(f"{name} {value}" for name, value in told if value)])


def _moment(day, recorded_at, zone):
    """Return the moment from which a record counts: that of recording if on the same day, else the day's start."""
    if recorded_at and recorded_at.astimezone(zone).date() == day:
        return recorded_at
    return datetime.combine(day, time(), zone)
