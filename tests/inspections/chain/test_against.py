"""Every single-field alteration, removal and insertion is found, and the report names the right record."""

import json
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import DatabaseError, connection, models, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.acting.scope import settle
from inspections.chain.rows import FROZEN, MODELS
from inspections.models import (
    Amendment,
    ChainEntry,
    ChainHead,
    Inspection,
    InspectionStep,
    Photograph,
    Reading,
    Replacement,
    Result,
    SignedRecord,
    StepRemark,
)
from inspections.models.querysets.step_notes import PICTURES
from inspections.records.content import digest_of
from tests.inspections.chain.store import sign, troubles
from tests.inspections.scenes import PASSING

TABLES = {
    Inspection: lambda row: row.pk,
    InspectionStep: lambda row: row.inspection_id,
    Reading: lambda row: row.step.inspection_id,
    Result: lambda row: row.step.inspection_id,
    StepRemark: lambda row: row.step.inspection_id,
    Photograph: lambda row: row.step.inspection_id,
    Replacement: lambda row: row.step.inspection_id,
    SignedRecord: lambda row: row.inspection_id,
    Amendment: lambda row: row.inspection_id,
    ChainEntry: lambda row: row.inspection_id,
    ChainHead: lambda row: None,
}
COLUMNS = [
    (model, column) for model in TABLES for column in model._meta.concrete_fields if (model, column.name) not in {
        (ChainEntry, "id"), (ChainHead, "id")  # row numbers that nothing refers to and no page shows
    }
]  # fmt: skip


class Undone(Exception):
    """Takes back what a test did to the rows."""


def altered(row, column, salt=0):
    """Another value of the same column, as it goes into the database."""
    value = getattr(row, column.attname)
    if column.primary_key or column.is_relation or isinstance(column, models.IntegerField):
        return (value or 0) + 1000 + salt
    if isinstance(column, models.BinaryField):
        return bytes(value or b"") + bytes([salt % 256])
    if isinstance(column, models.BooleanField):
        return not value
    if isinstance(column, models.FloatField):
        return (value or 0.0) + 0.001 * (1 + salt)
    if isinstance(column, models.DecimalField):
        return (value or Decimal(0)) + 1 + salt
    if isinstance(column, models.JSONField):
        more = f"added {salt}"
        return json.dumps([*value, more] if isinstance(value, list) else {**(value or {}), "note": more})
    if isinstance(column, models.DateTimeField):
        return f"2026-03-04 05:06:07.00{salt % 10}000+00:00" if connection.vendor == "postgresql" else (
            f"2026-03-04 05:06:07.00{salt % 10}000"
        )  # fmt: skip
    if isinstance(column, models.DateField):
        return f"2026-03-{1 + salt % 28:02}"
    return _altered_text(value, column, salt)


def _altered_text(value, column, salt):
    if len(value or "") == 64:
        return value[:-1] + ("0" if value[-1] != "0" else "1")
    if column.choices:
        return next(choice for choice, _ in column.choices if choice != value)
    text = f"{value}"
    place = salt % (len(text) + 1)
    new = text[:place] + "~" + text[place + 1 :]
    return new[: column.max_length] if column.max_length else new


def after(change, *, look=troubles, **kwargs):
    """What verification finds after `change`, which is taken back; None if the database refuses it.

    look  what to ask in place of the whole verification
    """
    found = None
    try:
        with transaction.atomic():
            if connection.vendor == "sqlite":
                connection.cursor().execute("PRAGMA ignore_check_constraints = ON")
            change()
            found = look(**kwargs)
            raise Undone
    except (Undone, DatabaseError):
        pass
    finally:
        if connection.vendor == "sqlite":
            connection.cursor().execute("PRAGMA ignore_check_constraints = OFF")
    return found


def write(row, column, value):
    table, key = row._meta.db_table, row._meta.pk.column
    with connection.cursor() as cursor:
        cursor.execute(f'UPDATE {table} SET "{column.column}" = %s WHERE {key} = %s', [value, row.pk])


def remove(row):
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {row._meta.db_table} WHERE {row._meta.pk.column} = %s", [row.pk])


def names(found, inspection):
    return any(trouble.inspection == inspection for trouble in found)


def signed_rows(model):
    rows = model.objects.order_by("pk")
    if model in (Reading, Replacement, Result, StepRemark, Photograph):
        return list(rows.select_related("step").filter(step__inspection__record__isnull=False))
    if model is InspectionStep:
        return list(rows.filter(inspection__record__isnull=False))
    return list(rows.filter(record__isnull=False) if model is Inspection else rows)


@pytest.mark.parametrize("table", FROZEN)
def test_every_column_behind_a_record_is_frozen(table):
    """The pictures of a photograph are proved by their digests, which are frozen."""
    pictures = PICTURES if MODELS[table] is Photograph else ()
    assert {column.attname for column in MODELS[table]._meta.concrete_fields} == {*FROZEN[table], *pictures}


@pytest.mark.parametrize("model", TABLES)
def test_altering_any_column_of_a_table_is_found_in_the_right_record(store, model):
    refused = []
    for row in (signed_rows(model)[0], signed_rows(model)[-1]):
        for column in (column for kind, column in COLUMNS if kind is model):
            found = after(lambda row=row, column=column: write(row, column, altered(row, column)))
            if found is None:
                refused.append(column.name)
                continue
            assert found, f"{model.__name__} {row.pk} {column.name}"
            expected = TABLES[model](row)
            assert expected is None or names(found, expected), [column.name, *map(str, found)]
    # The database itself keeps stage, signer and signature together, an absence with its reason, and one record each,
    # a set of readings as left behind the one as found, a withdrawn entry with who withdrew it, and a photograph with
    # its step or finding, and with who removed it.
    assert set(refused) <= {"stage", "signed_by", "signed_at", "version", "countersigned_by", "technician", "applies",
                            "kind", "as_left_of", "set_number", "withdrawn_by", "withdrawn_at", "finding", "removed_at",
                            "removed_by"}  # fmt: skip


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(data=st.data())
def test_any_alteration_of_any_row_is_found_in_the_right_record(store, data):
    model, column = data.draw(st.sampled_from(COLUMNS))
    row = data.draw(st.sampled_from(signed_rows(model)))
    found = after(lambda: write(row, column, altered(row, column, data.draw(st.integers(0, 500)))))
    expected = TABLES[model](row)
    assert found is None or (found and (expected is None or names(found, expected)))


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(data=st.data())
def test_any_removed_row_is_found_in_the_right_record(store, data):
    model = data.draw(st.sampled_from(list(TABLES)))
    row = data.draw(st.sampled_from(signed_rows(model)))
    found = after(lambda: remove(row))
    assert found
    if model is not ChainHead and not (model is ChainEntry and row.kind == "amended"):
        assert names(found, TABLES[model](row)), [str(one) for one in found]


@pytest.mark.parametrize("model", [InspectionStep, Reading, Replacement, Result])
def test_a_row_slipped_into_a_record_is_found_there(store, model):
    row = signed_rows(model)[-1]
    inspection = TABLES[model](row)
    row.pk = None
    own = {InspectionStep: {"code": "more", "as_left_of": None, "set_number": 1}, Reading: {"field": "more"},
           Result: {"key": "more"}, Replacement: {"code": "more"}}  # fmt: skip
    for name, value in own[model].items():
        setattr(row, name, value)
    [trouble] = after(lambda: model.objects.bulk_create([row]))
    assert (trouble.kind, trouble.inspection) == ("inserted", inspection)


def test_an_inspection_signed_past_the_actions_is_found(store):
    planned = Inspection.objects.filter(stage="planned").first()
    signed = store.records[0]
    change = {"stage": "signed", "signed_by": signed.signed_by, "signed_at": signed.signed_at,
              "technician": signed.technician, "version": signed.version}  # fmt: skip
    [trouble] = after(lambda: Inspection.objects.filter(pk=planned.pk).update(**change))
    assert (trouble.kind, trouble.inspection) == ("inserted", planned.pk)


def test_an_amendment_slipped_in_is_found(store):
    amendment = Amendment(
        inspection=store.records[1], correction="a", reason="b", by=store.scene.other, at=store.records[1].signed_at
    )
    [trouble] = after(amendment.save)
    assert (trouble.kind, trouble.inspection) == ("inserted", store.records[1].pk)


def test_an_entry_slipped_in_behind_the_newest_is_found(store):
    newest = ChainEntry.objects.filter(site=store.site).last()
    newest.pk, newest.kind, newest.digest = None, "countersigned", "f" * 64
    newest.sequence += 1
    found = after(lambda: ChainEntry.objects.bulk_create([newest]))
    assert any("inserted" in str(one) and one.sequence == newest.sequence for one in found)


def test_the_report_says_site_entry_record_field_expected_and_found(store):
    reading = Reading.objects.filter(step__inspection=store.records[1], as_read="40").get()
    [trouble] = after(lambda: Reading.objects.filter(pk=reading.pk).update(as_read="41"))
    assert (trouble.kind, trouble.site, trouble.sequence, trouble.inspection) == (
        "altered", store.site.code, 5, store.records[1].pk,
    )  # fmt: skip
    assert (trouble.field, trouble.expected, trouble.found) == ("as_read", "40", "41")


def test_an_altered_record_is_told_by_the_reading_that_differs(store):
    record = store.records[1].record
    changed = record.content.replace('"as_read":"40"', '"as_read":"41"')
    found = after(lambda: SignedRecord.objects.filter(pk=record.pk).update(content=changed))
    assert ("as_read", "40", "41") in [(one.field, one.expected, one.found) for one in found]


def test_a_record_altered_together_with_its_digest_and_its_rows_is_found(store):
    """The attack of somebody who knows the tables but not the chain."""
    record = store.records[1].record

    def change():
        content = record.content.replace('"as_read":"40"', '"as_read":"41"')
        SignedRecord.objects.filter(pk=record.pk).update(content=content, digest=digest_of(content))
        Reading.objects.filter(step__inspection=store.records[1], as_read="40").update(as_read="41")

    assert names(after(change), store.records[1].pk)


def test_an_entry_from_before_a_table_was_frozen_holds_and_tells_a_row_slipped_into_it(store, monkeypatch):
    """A signature of an earlier version froze no replaced components: it verifies, and one inserted later is found."""
    earlier = {table: fields for table, fields in FROZEN.items() if table != "replacement"}
    with monkeypatch.context() as patch:
        patch.setattr("inspections.chain.rows.FROZEN", earlier)
        at = store.records[1].signed_at + timedelta(days=1)
        store.scene.again(at=at)
        old = sign(store.scene, at, PASSING)
    settle()
    assert troubles() == []
    row = signed_rows(Replacement)[-1]
    row.pk, row.step = None, old.steps.first()
    [trouble] = after(lambda: Replacement.objects.bulk_create([row]))
    assert (trouble.kind, trouble.inspection) == ("inserted", old.pk)
