"""The history of a machine that the register itself has, newest first."""

from datetime import datetime, time
from zoneinfo import ZoneInfo

from django.db.models import F

from fleet.extensions import Event
from fleet.models import (
    AreaPeriod,
    AwayPeriod,
    CircuitChange,
    Component,
    EarlierInspection,
    Evidence,
    FeatureState,
    MachineStatus,
    State,
    StatusChange,
)


def register_events(machine, limit):
    """Return the newest events of the register, at most `limit` of each kind, without the model's defaults."""
    zone = ZoneInfo(machine.site.time_zone)
    return [
        *_status_events(machine, zone, limit),
        *_feature_events(machine, zone, limit),
        *_component_events(machine, zone, limit),
        *_circuit_events(machine, zone, limit),
        *_earlier_events(machine, zone, limit),
        *_area_events(machine, zone, limit),
        *_away_events(machine, zone, limit),
    ]


def newest_first(events, limit):
    return sorted(events, key=lambda event: event.at, reverse=True)[:limit]


def _status_events(machine, zone, limit):
    changes = StatusChange.objects.filter(machine=machine).select_related("by")[:limit]
    for change in changes:
        detail = f"{change.reason} ({change.evidence})" if change.evidence else change.reason
        at = _moment(change.changed_on, change.recorded_at, zone)
        yield Event(
            at, MachineStatus(change.status).label, detail, str(change.by or ""), MachineStatus(change.status).label
        )


def _feature_events(machine, zone, limit):
    rows = FeatureState.objects.filter(machine=machine).exclude(evidence=Evidence.MODEL_DEFAULT).select_related("by")
    for row in rows.order_by("-from_date", "-pk")[:limit]:
        state = State(row.state).label
        title = f"{row.catalogue_entry.name}: {state.lower()}"
        if row.until_date == row.from_date:
            title += " (corrected later)"
        detail = f"{Evidence(row.evidence).label}. {row.note}" if row.note else Evidence(row.evidence).label
        yield Event(_moment(row.from_date, row.recorded_at, zone), title, detail, str(row.by or ""), state)


def _component_events(machine, zone, limit):
    """Components from a list; a change in the circuit has its own event."""
    components = Component.objects.filter(machine=machine)
    fitted = components.filter(fitted_in=None).exclude(fitted_on=machine.in_use_from)
    for component in fitted.order_by("-fitted_on", "-pk")[:limit]:
        yield Event(_moment(component.fitted_on, None, zone), f"{component} fitted", _plate(component))
    removed = components.filter(removed_in=None, fitted_in=None).exclude(removed_on=None)
    for component in removed.order_by(F("removed_on").desc(), "-pk")[:limit]:
        yield Event(_moment(component.removed_on, None, zone), f"{component} removed", _plate(component))


def _circuit_events(machine, zone, limit):
    changes = CircuitChange.objects.filter(machine=machine).exclude(verb=CircuitChange.Verb.COPIED)
    for change in changes.select_related("by", "undone_by")[:limit]:
        detail = change.evidence
        if change.undone_at:
            detail = f"Undone by {change.undone_by or 'a person not recorded'}: {change.undone_reason}"
        yield Event(_moment(change.changed_on, change.recorded_at, zone), change.words, detail, str(change.by or ""))


def _earlier_events(machine, zone, limit):
    """Inspections of old records, marked as such and without the mark of a decision: Bobbin has not judged them."""
    for one in EarlierInspection.objects.filter(machine=machine)[:limit]:
        told = (("result", one.result), ("record", one.reference), ("from", one.source))
        detail = ", ".join(f"{name} {value}" for name, value in told if value)
        yield Event(_moment(one.done_on, None, zone), f"{one.procedure} (recorded elsewhere)", detail, one.done_by)


def _area_events(machine, zone, limit):
    """Moves; the area in which the machine was first is no event."""
    moves = AreaPeriod.objects.filter(machine=machine).exclude(from_date=machine.in_use_from)
    for row in moves.select_related("area__site", "by")[:limit]:
        at = _moment(row.from_date, row.recorded_at, zone)
        yield Event(at, f"Moved to {row.area}", row.evidence, str(row.by or ""))


def _away_events(machine, zone, limit):
    for row in AwayPeriod.objects.filter(machine=machine).select_related("by", "returned_by")[:limit]:
        at = _moment(row.from_date, row.at, zone)
        yield Event(at, f"Away: {row.get_kind_display().lower()}, {row.to_whom}", row.reason, str(row.by or ""))
        if row.is_over:
            at = _moment(row.returned_on, row.returned_at, zone)
            yield Event(at, f"Back from {row.to_whom}", row.return_note, str(row.returned_by or ""))


def _plate(component):
    told = (("part number", component.part_number), ("serial", component.serial), ("lot", component.lot))
    return ", ".join([component.catalogue_entry.name, *(f"{name} {value}" for name, value in told if value)])


def _moment(day, recorded_at, zone):
    """Return the moment from which a record counts: that of recording if on the same day, else the day's start."""
    if recorded_at and recorded_at.astimezone(zone).date() == day:
        return recorded_at
    return datetime.combine(day, time(), zone)
