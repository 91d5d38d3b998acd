"""Attaching and withdrawing a file: what is stored, what is refused, what stays."""

import pytest
from django.db import IntegrityError, transaction

from fleet.changes import changes_of
from inspections.actions import attach_file, report_fault, withdraw_attachment
from inspections.errors import AttachmentRefused, RecordFrozen
from inspections.models import Attachment
from inspections.models.attachments import SUBJECTS
from tests.factories import (
    NOON,
    make_component,
    make_instrument,
    make_machine,
    make_person,
    make_procedure,
    make_signed_inspection,
    make_site,
)
from tests.inspections.attachments.rows import accepted, attach
from tests.inspections.notices.scenes import make_notice
from tests.inspections.scenes import SHORT

pytestmark = pytest.mark.django_db


@pytest.fixture
def by():
    return make_person("technician")


@pytest.fixture
def subjects(by, tmp_path):
    machine = make_machine(by=by)
    return {
        "machine": machine,
        "component": make_component(machine),
        "calibration": make_instrument(site=machine.site).calibrations.get(),
        "finding": report_fault(machine, title="Sticks", severity="other", by=by, at=NOON),
        "inspection": make_signed_inspection(machine, by=by),
        "notice": make_notice(by),
        "version": make_procedure(SHORT, directory=tmp_path).current_version(),
    }


@pytest.mark.parametrize("of", SUBJECTS)
def test_a_file_is_stored_with_its_digest_who_and_when(subjects, of, by):
    made = Attachment.objects.with_content().get(pk=attach(by, "words", **{of: subjects[of]}).pk)
    assert bytes(made.content) == b"words"
    assert (made.of, made.subject, made.by, made.at, made.octets) == (of, subjects[of], by, NOON, 5)
    assert made.digest == Attachment.digest_of(b"words")
    [entry] = changes_of("attachment", made.pk)
    assert (entry.by, entry.at) == (by, NOON) and made.digest in str(entry.after)


@pytest.mark.parametrize("of", SUBJECTS)
def test_the_same_file_twice_on_one_thing_is_refused_with_a_sentence(subjects, of, by):
    attach(by, title="First", **{of: subjects[of]})
    with pytest.raises(AttachmentRefused, match=r"attached already: “First”, by Test Person \d+ on 2 Nov 2026"):
        attach(by, title="Second", **{of: subjects[of]})
    assert Attachment.objects.count() == 1
    with pytest.raises(IntegrityError), transaction.atomic():
        first = Attachment.objects.with_content().get()
        first.pk, first._state.adding = None, True
        first.save(force_insert=True)


def test_the_same_file_on_two_things_is_accepted(subjects, by):
    attach(by, machine=subjects["machine"])
    attach(by, finding=subjects["finding"])
    assert Attachment.objects.of_machine(subjects["machine"]).count() == 2


def test_a_photograph_sent_again_is_the_same_although_it_is_stored_clean(subjects, by):
    sent = accepted("as sent")
    clean = type(sent)(b"clean", "jpeg", "a.jpg", sent.digest)
    again = type(sent)(b"clean by another release", "jpeg", "a.jpg", sent.digest)
    attach_file(clean, title="First", machine=subjects["machine"], by=by, at=NOON)
    with pytest.raises(AttachmentRefused, match="attached already"):
        attach_file(again, title="Second", machine=subjects["machine"], by=by, at=NOON)


def test_a_file_without_a_title_and_one_too_many_are_refused(subjects, by, monkeypatch):
    with pytest.raises(AttachmentRefused, match="what the file shows"):
        attach(by, title=" ", machine=subjects["machine"])
    monkeypatch.setattr("inspections.actions.attachments.MOST_OF_ONE", 1)
    attach(by, "one", machine=subjects["machine"])
    with pytest.raises(AttachmentRefused, match="1 attached files, which is the most"):
        attach(by, "two", machine=subjects["machine"])


def test_a_withdrawn_file_stays_with_the_reason_and_may_be_attached_again(subjects, by):
    made = attach(by, machine=subjects["machine"])
    withdraw_attachment(made, reason=" Other machine ", by=by, at=NOON)
    row = Attachment.objects.with_content().get()
    assert (row.withdrawn_by, row.withdrawn_at, row.withdrawn_reason) == (by, NOON, "Other machine")
    assert row.has_content and bytes(row.content) == b"Certificate 4711"
    with pytest.raises(AttachmentRefused, match="withdrawn already"):
        withdraw_attachment(made, reason="Twice", by=by, at=NOON)
    attach(by, machine=subjects["machine"])
    assert Attachment.objects.in_place().count() == 1


def test_a_withdrawal_needs_a_reason(subjects, by):
    made = attach(by, machine=subjects["machine"])
    with pytest.raises(AttachmentRefused, match="State why"):
        withdraw_attachment(made, reason=" ", by=by, at=NOON)
    assert Attachment.objects.in_place().count() == 1


def test_an_attached_file_cannot_be_saved_again(subjects, by):
    made = attach(by, machine=subjects["machine"])
    made.title = "Another"
    with pytest.raises(RecordFrozen, match="does not change"):
        made.save()


def test_somebody_of_another_site_sees_nothing_but_procedures_and_notices_of_no_site(subjects, by):
    for of, subject in subjects.items():
        attach(by, **{of: subject})
    elsewhere, here = make_person("technician", sites=[make_site()]), make_person(sites=[subjects["machine"].site])
    assert {one.of for one in Attachment.objects.visible_to(elsewhere)} == {"notice", "version"}
    assert {one.of for one in Attachment.objects.visible_to(here)} == set(SUBJECTS)
    assert Attachment.objects.visible_to(make_person("auditor")).count() == len(SUBJECTS)
