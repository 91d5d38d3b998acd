"""Store which device books were made, so that whoever has one can prove that it came from here."""

from django.db import transaction

from fleet.changes import record_created
from inspections.models import DeviceBook


@transaction.atomic
def record_device_books(made, *, by, at):
    """Store a row for each MadeBook."""
    rows = [
        DeviceBook(machine=one.machine, digest=one.digest, files=one.files, records=one.records, made_by=by, made_at=at)
        for one in made
    ]
    for row in rows:
        row.save(force_insert=True)
    record_created(rows, by=by, at=at)
    return rows
