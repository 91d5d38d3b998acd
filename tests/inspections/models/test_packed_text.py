"""Frozen text comes back letter by letter, takes less room, and an altered value is told instead of breaking a page."""

import zlib

import pytest
from django.core.exceptions import FieldError
from django.db import connection
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inspections.chain.verification import verify_store
from inspections.models import ChainEntry, SignedRecord
from inspections.models.packed_text import PackedTextField
from inspections.records.content import digest_of
from tests.factories import make_person

TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"))


def as_stored(model, pk):
    with connection.cursor() as cursor:
        cursor.execute(f'SELECT content FROM "{model._meta.db_table}" WHERE id = %s', [pk])
        [stored] = cursor.fetchone()
    return stored


def store(model, pk, value):
    with connection.cursor() as cursor:
        cursor.execute(f'UPDATE "{model._meta.db_table}" SET content = %s WHERE id = %s', [value, pk])


@given(TEXTS)
def test_any_text_comes_back(text):
    field = PackedTextField()
    stored = field.get_db_prep_value(text, connection)
    assert field.from_db_value(stored, None, connection) == text


@pytest.fixture
def signed(scene):
    scene.complete()
    return scene.sign()


def test_what_a_signature_freezes_is_stored_small_and_read_whole(signed):
    for model in (SignedRecord, ChainEntry):
        row = model.objects.get(inspection=signed)
        assert digest_of(row.content) == row.digest
        stored = as_stored(model, row.pk)
        if connection.vendor == "sqlite":  # PostgreSQL compresses a long value itself
            assert len(stored) < len(row.content) / 2 and zlib.decompress(stored).decode() == row.content
        else:
            assert stored == row.content


def test_text_from_before_it_was_compressed_is_read_and_verifies(signed):
    for model in (SignedRecord, ChainEntry):
        row = model.objects.get(inspection=signed)
        store(model, row.pk, row.content)
        assert model.objects.get(pk=row.pk).content == row.content
    assert list(verify_store()) == []


@pytest.mark.parametrize("damaged", ["no JSON", b"\xfe not packed", zlib.compress(b"{"), zlib.compress(b"{}")[:-3]])
def test_a_damaged_record_is_told_by_verification_and_by_its_page(signed, damaged, client):
    if isinstance(damaged, bytes) and connection.vendor != "sqlite":
        damaged = damaged.hex()
    store(SignedRecord, signed.record.pk, damaged)
    assert (signed.pk, "content") in [(one.inspection, one.field) for one in verify_store()]
    client.force_login(make_person("auditor"))
    for address in ("inspections:inspection", "inspections:record_pdf"):
        page = client.get(reverse(address, args=[signed.pk]))
        assert page.status_code == 500 and "was altered in the database" in page.content.decode()


def test_compressed_text_is_not_searched(db):
    with pytest.raises(FieldError, match="content is compressed and cannot be searched"):
        SignedRecord.objects.filter(content__contains="psi").exists()
