"""Who changed what, when, before and after: entries.py writes them, tracked.py says of which rows."""

from fleet.changes.entries import (
    changes_of,
    correction_entries,
    record_change,
    record_created,
    recording,
    track,
    tracked_models,
    tracked_record,
)

__all__ = [
    "changes_of",
    "correction_entries",
    "record_change",
    "record_created",
    "recording",
    "track",
    "tracked_models",
    "tracked_record",
]
