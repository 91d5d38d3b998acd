"""The rows behind a signed record as plain data: read alike when they are frozen and when they are verified."""

import json
from datetime import UTC, date, datetime
from functools import lru_cache
from operator import itemgetter

from django.db import connections
from django.db.models import DateField, DateTimeField, Func, JSONField, TextField
from django.db.models.functions import Cast

from inspections.models import (
    Inspection,
    InspectionStep,
    Photograph,
    Reading,
    ReadingQuestion,
    Replacement,
    Result,
    StepRemark,
)
from inspections.records.content import canonical_json, digest_of

# What a signature freezes of each table, by column; `id` comes first. JSON columns are kept as their digest.
FROZEN = {
    "inspection": (
        "id", "machine_id", "procedure_id", "version_id", "stage", "due_on", "opens_on", "closes_on", "booked_on",
        "booked_by_id", "booked_at", "technician_id", "planned_by_id", "planned_at", "note", "ambient_kpa_abs",
        "temperature_c", "units", "opened_by_id", "opened_at", "signed_by_id", "signed_at", "countersigned_by_id",
        "countersigned_at", "voided_by_id", "voided_at", "void_reason", "minutes",
    ),
    "step": (
        "id", "inspection_id", "position", "code", "title", "test_code", "subject", "component_id", "is_essential",
        "content", "applies", "absence", "not_tested_reason", "as_left_of_id", "set_number", "is_last", "work_done",
        "is_own_work", "begun_by_id", "begun_at",
    ),
    "reading": (
        "id", "step_id", "field", "row", "column", "as_read", "read_again", "unit", "zero", "instrument_id",
        "entered_by_id", "token_id", "entered_at", "typed_at", "superseded_at", "superseded_by_id", "contests_id",
        "settled_at", "settled_by_id",
    ),
    "outcome": (
        "id", "step_id", "key", "label", "value", "std_uncertainty", "expanded_uncertainty", "coverage_factor", "unit",
        "limit_lower", "limit_upper", "limit_rule", "limit_source", "limit_edition", "limit_confirmed", "decision",
        "margin", "probability", "convention", "remark", "content",
    ),
    "remark": ("id", "step_id", "text", "by_id", "at"),
    "photograph": (
        "id", "step_id", "finding_id", "digest", "preview_digest", "width", "height", "octets", "caption", "by_id",
        "at", "removed_by_id", "removed_at",
    ),
    "question": (
        "id", "reading_id", "kind", "asked", "alternatives", "asked_at", "answer", "changed_to_id", "by_id", "at",
    ),
    "replacement": (
        "id", "step_id", "component_id", "code", "kind", "label", "gas", "removed_serial", "removed_lot",
        "removed_part_number", "fitted_serial", "fitted_lot", "fitted_part_number", "note", "done_at", "by_id", "at",
        "withdrawn_by_id", "withdrawn_at", "fitted_id",
    ),
}  # fmt: skip
MODELS = {
    "inspection": Inspection, "step": InspectionStep, "reading": Reading, "outcome": Result, "remark": StepRemark,
    "photograph": Photograph, "question": ReadingQuestion, "replacement": Replacement,
}  # fmt: skip
INSPECTION_OF = {
    "inspection": "pk", "step": "inspection_id", "reading": "step__inspection_id", "outcome": "step__inspection_id",
    "remark": "step__inspection_id", "photograph": "step__inspection_id",
    "question": "reading__step__inspection_id",
    "replacement": "step__inspection_id",
}  # fmt: skip
JSON_COLUMNS = ("content", "units")
AFTER_SIGNING = ("stage", "countersigned_by_id", "countersigned_at")  # what a countersignature changes
KEPT_DIGESTS = 5000


class StoredMoment(Func):
    """A moment as `plain_value` writes it, from SQLite, which stores it in UTC as “2026-11-02 10:00:00.123456”."""

    template = "REPLACE(%(expressions)s, ' ', 'T') || '+00:00'"
    output_field = TextField()


def read_rows(table, inspections, fields=None, *, using="default"):
    """Map each inspection number to its rows of `table`, each a list of plain values in the order of `fields`."""
    fields = fields or FROZEN[table]
    path = INSPECTION_OF[table]
    rows = MODELS[table].objects.using(using).filter(**{f"{path.removesuffix('_id')}__in": inspections}).order_by()
    as_text, readers = _how_read(MODELS[table], fields, is_sqlite=connections[using].vendor == "sqlite")
    names = [f"{name}_text" if name in as_text else name for name in fields]
    rows = rows.annotate(**{f"{name}_text": text for name, text in as_text.items()}).values_list(*names, path)
    found = {}
    for *values, inspection in sorted(_as_stored(rows), key=itemgetter(0)):  # by `id`
        for position, read in readers:
            values[position] = read(values[position])
        found.setdefault(inspection, []).append(values)
    return found


def _as_stored(rows):
    """Return rows as the driver of the database does: what Django makes of each value takes longer than reading it."""
    sql, params = rows.query.get_compiler(rows.db).as_sql()
    with connections[rows.db].cursor() as cursor:
        cursor.execute(sql, params)
        return cursor.fetchall()


def _how_read(model, fields, *, is_sqlite):
    """Return how the columns are read whose values are not plain already: JSON, days and moments.

    As two: column -> the expression that returns it as text, and (position, function) of what is not plain as returned.
    SQLite stores days and moments as text.
    """
    as_text, readers = {}, []
    for position, name in enumerate(fields):
        field = model._meta.get_field(name.removesuffix("_id"))
        if isinstance(field, JSONField):
            as_text[name] = Cast(name, TextField())
            readers.append((position, json_digest if name in JSON_COLUMNS else json_value))
        elif isinstance(field, DateField) and is_sqlite:
            as_text[name] = StoredMoment(name) if isinstance(field, DateTimeField) else Cast(name, TextField())
        elif isinstance(field, DateField):
            readers.append((position, plain_value))
    return as_text, readers


def read_retests(inspections, *, using="default"):
    """Map each inspection number to the numbers of the findings that it retested."""
    through = Inspection.retests.through.objects.using(using).filter(inspection__in=inspections)
    found = {}
    for inspection, finding in through.order_by("finding_id").values_list("inspection_id", "finding_id"):
        found.setdefault(inspection, []).append(finding)
    return found


def frozen_rows(pk):
    """What a signature freezes of the rows of inspection `pk`, as the entry of the chain keeps it."""
    tables = {
        table: {"fields": list(fields), "rows": read_rows(table, [pk]).get(pk, [])} for table, fields in FROZEN.items()
    }
    return {**tables, "retests": read_retests([pk]).get(pk, [])}


def plain_value(value):
    """Moments as ISO text in UTC, dates as ISO text, the rest as it is."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return value.isoformat() if isinstance(value, date) else value


def json_value(text):
    """Return the value of a JSON text; the text itself where it is none."""
    try:
        return text and json.loads(text)
    except ValueError:
        return text


@lru_cache(KEPT_DIGESTS)
def json_digest(text):
    """SHA-256 of the canonical form of a JSON text: one digest on both databases. Steps repeat, so it remembers."""
    if text is None:
        return None
    try:
        return digest_of(canonical_json(json.loads(text)))
    except ValueError:
        return f"not JSON, {digest_of(text)}"
