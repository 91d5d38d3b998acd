"""What an entry of the chain says, as plain data."""

from inspections.chain.rows import frozen_rows, plain_value

FIRST = "0" * 64  # stands for the entry before the first
FORMAT = 1
AMENDMENT_FIELDS = ("id", "inspection_id", "step_id", "correction", "reason", "by_id", "at")
RECORD_FIELDS = ("id", "inspection_id", "digest", "signed_at")


def entry_content(*, site, sequence, previous, kind, inspection, at, recorded_at, mode, says):
    """The content of an entry: its place in the chain and what it proves.

    at  the time that the action states; recorded_at, by the clock of the server; mode, see fleet.acting.scope
    """
    return {
        "format": FORMAT,
        "site": site,
        "sequence": sequence,
        "previous": previous,
        "kind": str(kind),
        "inspection": inspection,
        "at": plain_value(at),
        "recorded_at": plain_value(recorded_at),
        "mode": mode,
        **says,
    }


def says_signature(inspection, record):
    """The record by its digest, and every row that was made from the same readings."""
    return {"record": fields_of(record, RECORD_FIELDS), "rows": frozen_rows(inspection.pk)}


def says_countersignature(inspection, signed_with):
    """Who countersigned and when; how, where the person was asked for it."""
    person = inspection.countersigned_by
    return {
        "countersigned_by_id": person.pk,
        "countersigned_at": plain_value(inspection.countersigned_at),
        "name": str(person),
        **({"signed_with": signed_with} if signed_with else {}),
    }


def says_amendment(amendment):
    return {"amendment": fields_of(amendment, AMENDMENT_FIELDS), "name": str(amendment.by)}


def fields_of(row, fields):
    return {field: plain_value(getattr(row, field)) for field in fields}
