"""Open a serious incident, add notes to it, close it by a second person."""

from django.db import transaction

from fleet.actions import withdraw_machine
from fleet.canonical import canonical_json, digest_of
from fleet.changes import record_created, recording
from fleet.models import Machine, MachineStatus
from inspections.errors import IncidentRefused
from inspections.incidents.freezing import content_of
from inspections.incidents.report_rules import JURISDICTIONS
from inspections.models import IncidentNote, SeriousIncident

WITHDRAWN = "Serious incident: do not use, do not alter, do not clean."


@transaction.atomic
def open_incident(machine, *, by, at, jurisdiction=""):
    """Freeze what is known of the machine and withdraw it from use. Raise IncidentRefused if one is open already."""
    Machine.objects.select_for_update(no_key=True).only("pk").get(pk=machine.pk)
    machine.refresh_from_db()
    if known := SeriousIncident.objects.open().filter(machine=machine).first():
        raise IncidentRefused(f"{known} is open since {known.opened_at:%Y-%m-%d %H:%M}. Add a note to it.")
    if jurisdiction and jurisdiction not in JURISDICTIONS:
        raise IncidentRefused(f"“{jurisdiction}” is not accepted. Choose one of {', '.join(JURISDICTIONS.values())}.")
    content = canonical_json(content_of(machine, by=by, at=at))
    incident = SeriousIncident.objects.create(
        machine=machine, jurisdiction=jurisdiction, content=content, digest=digest_of(content), opened_by=by,
        opened_at=at,
    )  # fmt: skip
    record_created([incident], by=by, at=at)
    if machine.status == MachineStatus.IN_SERVICE:
        withdraw_machine(machine, by=by, at=at, reason=WITHDRAWN, evidence=f"Incident {incident.pk}")
    return incident


@transaction.atomic
def add_incident_note(incident, *, text, by, at):
    """Add what somebody who was there knows. Raise IncidentRefused without a text."""
    if not text.strip():
        raise IncidentRefused(f"State what is known of {incident}: settings, alarms, who was present.")
    note = IncidentNote.objects.create(incident=incident, text=text.strip(), by=by, at=at)
    record_created([note], by=by, at=at)
    return note


@transaction.atomic
def close_incident(incident, *, reason, by, at):
    """Close an incident. Raise IncidentRefused without a reason, and for the person who opened it."""
    if not reason.strip():
        raise IncidentRefused(f"State why {incident} can be closed, and who agreed.")
    if incident.opened_by_id == by.pk:
        raise IncidentRefused(f"You opened {incident}. A second person has to close it.")
    with recording(incident, by=by, at=at):
        rows = SeriousIncident.objects.open().filter(pk=incident.pk)
        if not rows.update(closed_by=by, closed_at=at, closing_reason=reason.strip()):
            raise IncidentRefused(f"{incident} is already closed.")
    incident.refresh_from_db()
