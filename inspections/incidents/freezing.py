"""All that is known of a machine at a moment, as one content for a file. Reads only, each list bounded."""

from datetime import timedelta

from fleet.circuit.file_text import write_circuit
from fleet.circuits.machine_circuit import circuit_of
from fleet.days import FIRST_DAY
from fleet.models import Component, FeatureState, MachineCover, StatusChange
from inspections.models import FaultReport, Finding, Inspection, NoticeItem, Reading, Result, UserCheck

HOUR = timedelta(hours=1)
INSPECTIONS, CHECKS, FINDINGS, READINGS, STATUSES = 5, 10, 100, 1000, 20
FORMAT = 1


def content_of(machine, *, by, at):
    """Return the content of the file, of JSON values only. A fixed number of queries."""
    day = machine.site.date_of(at)
    signed = Inspection.objects.signed().filter(machine=machine).order_by("-signed_at", "-pk")
    latest = list(signed.select_related("procedure", "signed_by", "record")[:INSPECTIONS])
    return {
        "format": FORMAT,
        "frozen_at": at.isoformat(),
        "frozen_by": _person(by),
        "machine": _machine(machine),
        "status": [_status(one) for one in _statuses(machine)],
        "features": _features(machine, day),
        "circuit": _circuit(machine, day),
        "cover": _cover(machine),
        "components": [_component(one) for one in Component.objects.on(day).filter(machine=machine).order_by("pk")],
        "inspections": [_inspection(one) for one in latest],
        "readings": _readings(latest),
        "results": _results(latest),
        "in_progress": [_open(one) for one in _in_progress(machine)],
        "user_checks": [_check(one) for one in UserCheck.objects.filter(machine=machine)[:CHECKS]],
        "fault_reports": [_report(one) for one in FaultReport.objects.filter(machine=machine)[:CHECKS]],
        "open_findings": [_finding(one) for one in Finding.objects.open().filter(machine=machine)[:FINDINGS]],
        "notices": [_notice(one) for one in NoticeItem.objects.filter(machine=machine).with_place()
                    .select_related("notice")[:FINDINGS]],
        "people": _people(machine, by=by, at=at),
        "not_recorded": "Settings, alarms, the patient, and who was present: added as notes to the incident.",
    }  # fmt: skip


def _machine(machine):
    return {
        "asset_number": machine.asset_number, "serial": machine.serial, "model": str(machine.model),
        "built_year": machine.built_year, "in_use_from": machine.in_use_from.isoformat(), "area": machine.area.name,
        "site": machine.site.name, "status": machine.status, "note": machine.note,
    }  # fmt: skip


def _statuses(machine):
    return StatusChange.objects.filter(machine=machine).select_related("by")[:STATUSES]


def _status(one):
    return {
        "status": one.status, "changed_on": one.changed_on.isoformat(), "reason": one.reason, "evidence": one.evidence,
        "by": _person(one.by), "recorded_at": one.recorded_at.isoformat(),
    }  # fmt: skip


def _features(machine, day):
    rows = FeatureState.objects.on(day).filter(machine=machine).order_by("feature", "pk")
    return [
        {"feature": one.feature, "state": one.state, "from": one.from_date.isoformat(), "evidence": one.evidence}
        for one in rows
    ]


def _circuit(machine, day):
    """The circuit as a circuit file, with where it comes from; None where nothing is known."""
    found = circuit_of(machine, max(day, FIRST_DAY))
    return {
        "file": write_circuit(found.circuit) if found.circuit else None,
        "basis": str(found.basis),
        "problems": [str(one) for one in found.problems],
    }


def _cover(machine):
    one = MachineCover.objects.filter(machine=machine).select_related("cover").first()
    if one is None or one.cover is None:
        return None
    return {"digest": one.cover.digest, "computed_at": one.computed_at.isoformat(), "on": one.on.isoformat()}


def _component(one):
    return {
        "code": one.circuit_code, "kind": one.kind, "label": one.label, "part_number": one.part_number,
        "serial": one.serial, "lot": one.lot, "rated": one.rated, "further": one.further, "options": one.options,
        "fitted_on": one.fitted_on.isoformat(), "note": one.note,
    }  # fmt: skip


def _inspection(one):
    record = getattr(one, "record", None)
    return {
        "inspection": one.pk, "procedure": one.procedure.title, "signed_at": one.signed_at.isoformat(),
        "signed_by": _person(one.signed_by), "record_sha256": record.digest if record else None,
    }  # fmt: skip


def _readings(inspections):
    rows = Reading.objects.current().filter(step__inspection__in=[one.pk for one in inspections])
    rows = rows.select_related("step", "instrument", "entered_by").order_by("-step__inspection", "step", "field", "row")
    return [
        {
            "inspection": one.step.inspection_id, "step": str(one.step), "field": one.field, "row": one.row,
            "column": one.column, "as_read": one.as_read, "unit": one.unit, "zero": one.zero,
            "instrument": one.instrument.code if one.instrument else None, "entered_by": _person(one.entered_by),
            "entered_at": one.entered_at.isoformat(),
        }
        for one in rows[:READINGS]
    ]  # fmt: skip


def _results(inspections):
    rows = Result.objects.filter(step__inspection__in=[one.pk for one in inspections]).select_related("step")
    return [
        {"inspection": one.step.inspection_id, "step": str(one.step), "result": one.key, "label": one.label,
         "value": one.value, "unit": one.unit, "decision": one.decision}
        for one in rows.order_by("-step__inspection", "step", "pk")[:READINGS]
    ]  # fmt: skip


def _in_progress(machine):
    rows = Inspection.objects.open().filter(machine=machine).select_related("procedure", "technician", "opened_by")
    return rows[:FINDINGS]


def _open(one):
    return {
        "inspection": one.pk, "procedure": one.procedure.title, "stage": one.stage, "due_on": one.due_on.isoformat(),
        "booked_on": one.booked_on.isoformat() if one.booked_on else None, "technician": _person(one.technician),
        "opened_by": _person(one.opened_by),
    }  # fmt: skip


def _check(one):
    return {"kind": one.kind, "by": one.by_name, "check_list": one.check_list, "result": one.result, "note": one.note,
            "at": one.at.isoformat()}  # fmt: skip


def _report(one):
    return {"number": one.number, "what": one.what, "where": one.where, "who": one.who, "state": one.state,
            "reported_at": one.reported_at.isoformat()}  # fmt: skip


def _finding(one):
    return {"finding": one.pk, "title": one.title, "severity": one.severity, "opened_at": one.opened_at.isoformat(),
            "description": one.description}  # fmt: skip


def _notice(item):
    return {"notice": str(item.notice), "item": str(item), "answer": item.match, "reason": item.reason,
            "state": item.state, "words": item.words}  # fmt: skip


def _people(machine, *, by, at):
    """Who did something on the machine in the hour before, and who opened the incident."""
    readings = Reading.objects.filter(step__inspection__machine=machine, entered_at__gt=at - HOUR, entered_at__lte=at)
    who = {_person(by): "opened the incident"}
    names = readings.order_by("entered_by").distinct().values_list("entered_by__username", flat=True)
    for name in names[:FINDINGS]:
        who.setdefault(name, "entered readings")
    checks = UserCheck.objects.filter(machine=machine, at__gt=at - HOUR, at__lte=at)
    for one in checks[:CHECKS]:
        who.setdefault(one.by_name, f"recorded a {one.get_kind_display().lower()}")
    for one in FaultReport.objects.filter(machine=machine, reported_at__gt=at - HOUR, reported_at__lte=at)[:CHECKS]:
        who.setdefault(one.who, "reported a fault")
    return [{"who": name, "what": what} for name, what in who.items()]


def _person(person):
    return person.username if person else None
