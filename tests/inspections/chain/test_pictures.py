"""A photograph that is not the one that was signed is found, whoever altered it and however."""

import pytest
from django.db import connection

from inspections.actions import report_fault
from inspections.chain.verification import verify_inspection, verify_store
from inspections.models import Photograph
from tests.factories import NOON
from tests.fleet.photographs.pictures import clean_picture


def write(column, value, photograph):
    """Past all actions and constraints, as somebody with the database file does."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA ignore_check_constraints = ON")
        else:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")  # a table with checks to come cannot be altered
            cursor.execute("ALTER TABLE inspections_photograph DROP CONSTRAINT IF EXISTS photograph_until_removed")
        cursor.execute(f"UPDATE inspections_photograph SET {column} = %s WHERE id = %s", [value, photograph.pk])
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA ignore_check_constraints = OFF")


def signed_photograph(store):
    return Photograph.objects.in_place().filter(step__inspection=store.records[0]).first()


@pytest.mark.parametrize("column", ["content", "preview"])
@pytest.mark.parametrize("change, kind", [("other", "altered"), ("one bit", "altered"), ("nothing", "removed")])
def test_a_picture_that_was_exchanged_or_deleted_is_found(store, column, change, kind):
    photograph = signed_photograph(store)
    stored = bytearray(getattr(photograph, column))
    stored[len(stored) // 2] ^= 1
    value = {"other": clean_picture(200).content, "one bit": bytes(stored), "nothing": None}[change]
    write(column, value, photograph)
    for troubles in (verify_store(), verify_store(sites=[store.site]), verify_inspection(store.records[0])):
        [trouble] = list(troubles)
        assert (trouble.kind, trouble.site, trouble.inspection, trouble.field) == (
            kind, store.site.code, store.records[0].pk, column,
        )  # fmt: skip
        assert "photograph" in trouble.what and "Worn seat" in trouble.what
        assert trouble.expected.startswith("SHA-256 ")


def test_a_picture_exchanged_together_with_its_digest_is_found(store):
    photograph, other = signed_photograph(store), clean_picture(200)
    write("content", other.content, photograph)
    write("digest", other.digest, photograph)
    assert {(one.kind, one.field) for one in verify_inspection(store.records[0])} == {("altered", "digest")}


def test_a_picture_put_back_after_its_removal_is_found(store):
    removed = Photograph.objects.exclude(removed_at=None).filter(step__inspection=store.records[0]).get()
    write("content", clean_picture(80).content, removed)
    [trouble] = verify_inspection(store.records[0])
    assert (trouble.kind, trouble.field) == ("inserted", "content")


def test_a_picture_of_a_finding_is_verified_too(store):
    finding = report_fault(store.scene.machine, title="Sticks", severity="other", by=store.scene.other, at=NOON)
    photograph = Photograph.of_clean(clean_picture(), finding=finding, at=NOON)
    photograph.save()
    assert list(verify_store()) == []
    write("preview", b"", photograph)
    [trouble] = verify_store(sites=[store.site])
    assert (trouble.kind, trouble.site, trouble.inspection) == ("altered", store.site.code, None)
    assert list(verify_store(sites=[store.elsewhere.machine.site])) == []
