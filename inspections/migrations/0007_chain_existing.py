"""Chain what was signed before there was a chain, by site in the order of time; says in each entry that it came later.

Written out in full, so that later changes of the code leave it alone.
"""

import hashlib
import json
from datetime import UTC, date, datetime

from django.db import migrations
from django.db.models import TextField
from django.db.models.functions import Cast

FROZEN = {
    "inspection": (
        "id", "machine_id", "procedure_id", "version_id", "stage", "due_on", "opens_on", "closes_on", "booked_on",
        "booked_by_id", "booked_at", "technician_id", "planned_by_id", "planned_at", "note", "ambient_kpa_abs",
        "temperature_c", "opened_by_id", "opened_at", "signed_by_id", "signed_at", "countersigned_by_id",
        "countersigned_at", "voided_by_id", "voided_at", "void_reason",
    ),
    "step": (
        "id", "inspection_id", "position", "code", "title", "test_code", "subject", "component_id", "is_essential",
        "content", "applies", "absence", "not_tested_reason",
    ),
    "reading": (
        "id", "step_id", "field", "row", "column", "as_read", "unit", "zero", "instrument_id", "entered_by_id",
        "entered_at", "superseded_at", "superseded_by_id", "contests_id", "settled_at", "settled_by_id",
    ),
    "outcome": (
        "id", "step_id", "key", "label", "value", "std_uncertainty", "expanded_uncertainty", "coverage_factor", "unit",
        "limit_lower", "limit_upper", "limit_rule", "limit_source", "limit_edition", "decision", "margin",
        "probability", "convention", "remark", "content",
    ),
}  # fmt: skip
TABLES = {
    "inspection": ("Inspection", "pk"),
    "step": ("InspectionStep", "inspection"),
    "reading": ("Reading", "step__inspection"),
    "outcome": ("Outcome", "step__inspection"),
}
AFTER = {"stage": "signed", "countersigned_by_id": None, "countersigned_at": None}
FIRST = "0" * 64


def chain_existing(apps, schema_editor):
    database = schema_editor.connection.alias
    models = _models(apps, database)
    for site in apps.get_model("fleet", "Site").objects.using(database).order_by("pk"):
        _chain_site(models, site.pk)


def _models(apps, database):
    names = (*(name for name, _ in TABLES.values()), "SignedRecord", "Amendment", "ChainEntry", "ChainHead")
    return {name: apps.get_model("inspections", name).objects.using(database) for name in names}


def _chain_site(models, site):
    head = {"sequence": 0, "digest": FIRST, "at": None}
    for at, _, kind, pk in _happened(models, site):
        says = {"signed": _signature, "countersigned": _countersignature, "amended": _amendment}[kind](models, pk)
        inspection = says.pop("inspection")
        content = {
            "format": 1, "site": site, "sequence": head["sequence"] + 1, "previous": head["digest"], "kind": kind,
            "inspection": inspection, "at": _plain(at), "chained_later": True, **says,
        }  # fmt: skip
        text = _canonical(content)
        models["ChainEntry"].create(
            site_id=site, sequence=content["sequence"], kind=kind, inspection_id=inspection,
            amendment_id=pk if kind == "amended" else None, content=text, previous=head["digest"],
            digest=_digest(text), at=at,
        )  # fmt: skip
        head = {"sequence": content["sequence"], "digest": _digest(text), "at": at}
    if head["sequence"]:
        models["ChainHead"].create(site_id=site, **head)


def _happened(models, site):
    """What was signed, countersigned and amended at a site, in the order of time; on a tie in the order of work."""
    signed = models["Inspection"].filter(record__isnull=False, signed_at__isnull=False, machine__area__site=site)
    found = [(at, 0, "signed", pk) for at, pk in signed.values_list("signed_at", "pk")]
    countersigned = signed.exclude(countersigned_at=None).values_list("countersigned_at", "pk")
    found += [(at, 1, "countersigned", pk) for at, pk in countersigned]
    amended = models["Amendment"].filter(inspection__in=signed)
    return sorted(found + [(at, 2, "amended", pk) for at, pk in amended.values_list("at", "pk")])


def _signature(models, pk):
    record = models["SignedRecord"].get(inspection=pk)
    rows = {
        table: {"fields": list(fields), "rows": _rows(models, table, fields, pk)} for table, fields in FROZEN.items()
    }
    inspection = models["Inspection"].get(pk=pk)
    retests = sorted(inspection.retests.values_list("pk", flat=True))
    told = {"id": record.pk, "inspection_id": pk, "digest": record.digest, "signed_at": _plain(record.signed_at)}
    return {"inspection": pk, "record": told, "rows": {**rows, "retests": retests}}


def _rows(models, table, fields, pk):
    model, path = TABLES[table]
    rows = models[model].filter(**{path: pk}).order_by("pk")
    names = ["content_text" if field == "content" else field for field in fields]
    if "content" in fields:
        rows = rows.annotate(content_text=Cast("content", TextField()))
    found = []
    for values in rows.values_list(*names):
        row = {field: _plain(value) for field, value in zip(fields, values, strict=True)}
        if "content" in row:
            row["content"] = _digest(_canonical(json.loads(row["content"])))
        if table == "inspection":
            row |= AFTER
        found.append(list(row.values()))
    return found


def _countersignature(models, pk):
    inspection = models["Inspection"].select_related("countersigned_by").get(pk=pk)
    return {
        "inspection": pk,
        "countersigned_by_id": inspection.countersigned_by_id,
        "countersigned_at": _plain(inspection.countersigned_at),
        "name": _name(inspection.countersigned_by),
    }


def _amendment(models, pk):
    amendment = models["Amendment"].select_related("by").get(pk=pk)
    fields = ("id", "inspection_id", "step_id", "correction", "reason", "by_id", "at")
    told = {field: _plain(getattr(amendment, field)) for field in fields}
    return {"inspection": amendment.inspection_id, "amendment": told, "name": _name(amendment.by)}


def _name(person):
    return f"{person.first_name} {person.last_name}".strip() or person.username


def _plain(value):
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return value.isoformat() if isinstance(value, date) else value


def _canonical(content):
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def _digest(text):
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0001_first"),
        ("inspections", "0006_contested_reading"),
    ]

    operations = [migrations.RunPython(chain_existing, migrations.RunPython.noop)]
