"""An attached file whose bytes were altered in the database is named by the verification, with both digests."""

import pytest
from django.db import connection

from fleet.acting.scope import settle
from inspections.actions import report_fault
from inspections.chain.verification import verify_inspection, verify_store
from inspections.models import Attachment
from tests.factories import NOON, make_component, make_instrument
from tests.inspections.attachments.rows import attach


def write(column, value, attachment):
    """Past all actions and constraints, as somebody with the database file does."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA ignore_check_constraints = ON")
        else:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("ALTER TABLE inspections_attachment DROP CONSTRAINT IF EXISTS attachment_until_removed")
        cursor.execute(f"UPDATE inspections_attachment SET {column} = %s WHERE id = %s", [value, attachment.pk])
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA ignore_check_constraints = OFF")


@pytest.fixture
def attached(store):
    """A file on everything of the site that carries evidence."""
    by, machine = store.scene.other, store.scene.machine
    finding = report_fault(machine, title="Sticks", severity="other", by=by, at=NOON)
    instrument = make_instrument(site=machine.site)
    subjects = {
        "machine": machine, "component": make_component(machine, label="Other valve"), "finding": finding,
        "inspection": store.records[0], "calibration": instrument.calibrations.get(),
    }  # fmt: skip
    made = {of: attach(by, f"Words of {of}", title=f"Proof of {of}", **{of: one}) for of, one in subjects.items()}
    settle()
    assert list(verify_store()) == []
    return made


@pytest.mark.parametrize("of", ["machine", "component", "finding", "inspection", "calibration"])
def test_an_altered_byte_is_found_and_the_file_is_named_with_both_digests(store, attached, of):
    altered = f"words of {of}".encode()
    write("content", altered, attached[of])
    for troubles in (verify_store(), verify_store(sites=[store.site])):
        [trouble] = troubles
        assert (trouble.kind, trouble.site, trouble.field) == ("altered", store.site.code, "content")
        assert trouble.what == f"attached file {attached[of].pk} (Proof of {of})"
        assert trouble.expected == f"SHA-256 {attached[of].digest}"
        assert trouble.found == f"SHA-256 {Attachment.digest_of(altered)}"
    assert list(verify_store(sites=[store.elsewhere.machine.site])) == []


def test_it_is_found_with_the_record_that_it_belongs_to(store, attached):
    write("content", b"other", attached["inspection"])
    [trouble] = verify_inspection(store.records[0])
    assert trouble.inspection == store.records[0].pk and "Proof of inspection" in trouble.what


def test_a_file_exchanged_together_with_its_digest_is_found_by_the_journal(store, attached):
    write("content", b"other", attached["finding"])
    write("digest", Attachment.digest_of(b"other"), attached["finding"])
    [trouble] = verify_store()
    assert (trouble.kind, trouble.field, trouble.site) == ("altered", "digest", store.site.code)


@pytest.mark.parametrize("of", ["component", "calibration"])
def test_the_journal_says_of_which_site_an_altered_row_is(store, attached, of):
    write("title", "Another", attached[of])
    [trouble] = verify_store(sites=[store.site])
    assert (trouble.field, trouble.site) == ("title", store.site.code)


def test_a_file_that_was_deleted_past_all_actions_is_found(store, attached):
    write("content", None, attached["machine"])
    [trouble] = verify_store()
    assert (trouble.kind, trouble.found) == ("removed", "nothing")
