"""Rows are frozen and verified as Django reads them, though they come from the database directly."""

import pytest
from django.db.models import JSONField

from inspections.chain.rows import FROZEN, JSON_COLUMNS, MODELS, json_digest, json_value, plain_value, read_rows
from inspections.models import QuestionKind, ReadingQuestion
from inspections.records.content import canonical_json, digest_of
from tests.factories import NOON
from tests.inspections.scenes import make_scene

pytestmark = pytest.mark.django_db


def test_each_value_is_the_one_that_django_reads(tmp_path):
    scene = make_scene(tmp_path)
    scene.complete()
    reading = scene.step().readings.first()
    meant = [{"as_read": "2", "unit": "L/min"}]
    words = {"kind": QuestionKind.SLIP, "asked": "Did you mean 2 L/min?", "alternatives": meant}
    ReadingQuestion.objects.create(reading=reading, asked_at=NOON, **words)
    pk = scene.sign().pk
    found = {table: read_rows(table, [pk]).get(pk, []) for table in FROZEN}
    assert found["question"][0][FROZEN["question"].index("alternatives")] == meant
    assert all(found[table] for table in ("inspection", "step", "reading", "outcome", "question"))
    for table, rows in found.items():
        stored = MODELS[table].objects.filter(pk__in=[row[0] for row in rows]).order_by("pk")
        assert rows == [[as_django_reads(row, name) for name in FROZEN[table]] for row in stored]
        assert all(type(value) in (int, float, str, bool, list, type(None)) for row in rows for value in row)


def as_django_reads(row, name):
    value = getattr(row, name)
    return digest_of(canonical_json(value)) if name in JSON_COLUMNS else plain_value(value)


def test_every_json_column_of_a_frozen_table_is_read_as_such():
    as_json = {
        (table, field.column)
        for table, model in MODELS.items()
        for field in model._meta.concrete_fields
        if isinstance(field, JSONField) and field.column in FROZEN[table]
    }
    known = {("inspection", "units"), ("step", "content"), ("outcome", "content"), ("question", "alternatives")}
    assert as_json == known


def test_a_text_that_is_no_json_is_read_as_text():
    assert (json_value("[1, 2.5]"), json_value("no JSON"), json_value(None)) == ([1, 2.5], "no JSON", None)
    assert json_digest("no JSON").startswith("not JSON")
