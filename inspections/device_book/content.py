"""The content of a device book as JSON values: the state of the record at one moment. Reads only, each part bounded.

What a book has to hold follows the German ordinance on the operation of medical devices (MPBetreibV 2025, section 13
(2), read at buzer.de/13_MPBetreibV.htm): identity; function test and instruction at the handover; people instructed;
dates, results and names of inspections; malfunctions and repeated use errors; reports of incidents.
"""

from zoneinfo import ZoneInfo

from django.utils import timezone

from fleet.canonical import canonical_json, digest_of
from fleet.place_format import NEUTRAL, using
from inspections.device_book import events, life, work
from inspections.models import Inspection, SignedRecord

FORMAT = 1
PARTS = (
    (life.STATUS, life.status),
    (life.PLACES, life.places),
    (life.LOANS, life.loans),
    (life.HANDOVERS, life.handover),
    (life.USERS, life.users),
    (life.INSTRUCTED, life.instructed),
    (life.SOFTWARE, life.software),
    (work.INSPECTIONS, work.inspections),
    (work.NOT_PASSED, work.not_passed),
    (work.AMENDMENTS, work.amendments),
    (work.NOT_DONE, work.not_done),
    (work.EARLIER, work.earlier),
    (work.FINDINGS, work.findings),
    (work.USE_ERRORS, work.use_errors),
    (events.INCIDENTS, events.incidents),
    (events.REPORTS, events.reports),
    (events.CHECKS, events.user_checks),
    (events.NOTICES, events.notices),
    (life.CIRCUIT, life.circuit_changes),
    (life.COMPONENTS, life.components),
    (work.REPLACED, work.replaced),
    (life.FEATURES, life.features),
    (events.DECOMMISSIONING, events.decommissioning),
    (events.FILES, events.files),
)
TITLES = [table.title for table, _ in PARTS]
NOT_HELD = (
    "Checks of IT security: Bobbin has no record of them. Attach reports to the machine.",
    "Users who were instructed and whom nobody entered. Attach the signed lists to the machine.",
    "Work of others that nobody entered, and everything before the first day in the register.",
)


def content_of(machine, *, by, at):
    """Return the content of the book of a machine, loaded with its place. A fixed number of queries."""
    with timezone.override(ZoneInfo(machine.site.time_zone)), using(NEUTRAL):
        return {
            "format": FORMAT,
            "what": "device book",
            "made_at": at.isoformat(),
            "made_for": str(by),
            "time_zone": machine.site.time_zone,
            "machine": identity(machine),
            "sections": [read(machine).as_content() for _, read in PARTS],
            "not_held": list(NOT_HELD),
        }


def identity(machine):
    model = machine.model
    return {
        "asset_number": machine.asset_number, "serial": machine.serial or None, "manufacturer": model.manufacturer,
        "model": model.name, "standard": model.standard or None, "built_year": machine.built_year,
        "in_use_from": machine.in_use_from.isoformat(), "site": machine.site.name, "area": machine.area.name,
        "status": machine.get_status_display(), "note": machine.note or None,
    }  # fmt: skip


def written(content) -> tuple[str, str]:
    """Return the content as canonical JSON text, and its SHA-256."""
    text = canonical_json(content)
    return text, digest_of(text)


def records_of(machine):
    """(number of the inspection, content, digest) of each signed record, the oldest first, one in memory at a time."""
    signed = Inspection.objects.signed().filter(machine=machine)
    rows = SignedRecord.objects.filter(inspection__in=signed.values("pk")).order_by("signed_at", "pk")
    yield from rows.values_list("inspection", "content", "digest").iterator(1)
