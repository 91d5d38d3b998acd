"""Which files have passed their period, by each event; and that a person alone removes one, with a reason."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.changes import changes_of
from fleet.models import Calibration, Instrument, StatusChange
from inspections.actions import close_notice, open_incident, remove_attachment_content, withdraw_attachment
from inspections.chain.verification import verify_store
from inspections.errors import AttachmentRefused
from inspections.models import Attachment, ProcedureVersion
from inspections.retention.passed import passed
from tests.factories import NOON, TODAY, make_component, make_instrument, make_machine, make_person, make_procedure
from tests.inspections.attachments.rows import attach
from tests.inspections.decommissioning.runs import retired
from tests.inspections.notices.scenes import make_notice, name, searched
from tests.inspections.scenes import SHORT

pytestmark = pytest.mark.django_db
LONG_AGO = TODAY.replace(year=TODAY.year - 11)


@pytest.fixture
def by():
    return make_person("planner")


def long_retired(by, on=LONG_AGO):
    machine = retired(by)
    StatusChange.objects.filter(machine=machine, status="retired").update(changed_on=on)
    return machine


def proposed():
    return set(passed(Attachment.objects.all(), TODAY))


def test_files_of_a_machine_count_from_its_retirement(by):
    old = long_retired(by)
    over = {attach(by, machine=old), attach(by, component=make_component(old))}
    attach(by, machine=long_retired(by, LONG_AGO + timedelta(days=1)))
    in_use = make_machine(by=by)
    StatusChange.objects.filter(machine=in_use).update(changed_on=LONG_AGO)
    attach(by, machine=in_use)
    assert proposed() == over


def test_files_of_calibrations_count_from_their_last_valid_day_once_the_instrument_is_retired(by):
    made = attach(by, calibration=(calibration := make_instrument().calibrations.get()))
    days = {"calibrated_on": LONG_AGO - timedelta(days=365), "due_on": LONG_AGO}
    Calibration.objects.filter(pk=calibration.pk).update(**days)
    assert proposed() == set()
    Instrument.objects.update(is_retired=True)
    assert proposed() == {made}


def test_files_of_notices_count_from_their_closing(by):
    notice = make_notice(by)
    name(notice, by=by)
    made = attach(by, notice=searched(notice, by))
    close_notice(notice, note="Answered", by=by, at=NOON)
    assert proposed() == set()
    assert set(passed(Attachment.objects.all(), TODAY.replace(year=TODAY.year + 11))) == {made}


def test_files_of_procedures_count_from_the_version_that_followed(by, tmp_path):
    procedure = make_procedure(SHORT, directory=tmp_path)
    first = procedure.current_version()
    made = attach(by, version=first)
    later = {"procedure": procedure, "content": first.content, "digest": "0" * 64, "loaded_at": NOON}
    ProcedureVersion.objects.create(number=2, from_date=LONG_AGO + timedelta(days=1), **later)
    assert proposed() == set()
    ProcedureVersion.objects.create(number=3, from_date=LONG_AGO, **later)
    assert proposed() == {made}


def test_a_removed_file_leaves_row_and_digest_and_the_store_verifies(by):
    made = attach(by, machine=long_retired(by))
    remove_attachment_content(made, reason=" Period over ", by=by, at=NOON)
    row = Attachment.objects.with_content().get()
    assert (row.content, row.removed_by, row.removed_reason) == (None, by, "Period over")
    assert row.digest == made.digest and proposed() == set()
    assert changes_of("attachment", made.pk).first().by == by
    assert list(verify_store()) == []
    with pytest.raises(AttachmentRefused):
        remove_attachment_content(made, reason="Twice", by=by, at=NOON)


def test_a_file_is_not_removed_before_its_time_or_without_a_reason(by):
    made = attach(by, machine=make_machine(by=by))
    with pytest.raises(AttachmentRefused, match="to be kept: 11 years after the machine was retired"):
        remove_attachment_content(made, reason="Disk full", by=by, at=NOON)
    with pytest.raises(AttachmentRefused, match="to be kept"):
        remove_attachment_content(made, reason="Patient seen", never_should_be=True, by=by, at=NOON)
    old = attach(by, "old", machine=long_retired(by))
    with pytest.raises(AttachmentRefused, match="State why"):
        remove_attachment_content(old, reason=" ", by=by, at=NOON)
    assert Attachment.objects.with_content_there().count() == 2


def test_a_withdrawn_file_that_should_never_have_been_stored_goes_at_once(by):
    made = attach(by, machine=make_machine(by=by))
    withdraw_attachment(made, reason="Patient seen", by=by, at=NOON)
    with pytest.raises(AttachmentRefused, match="should never have been stored"):
        remove_attachment_content(made, reason="x", by=by, at=NOON)
    remove_attachment_content(made, reason="Patient seen", never_should_be=True, by=by, at=NOON)
    assert not Attachment.objects.with_content_there().exists()


def test_nothing_of_a_machine_with_an_open_incident_is_removed(by):
    machine = long_retired(by)
    made = attach(by, machine=machine)
    open_incident(machine, by=by, at=NOON)
    with pytest.raises(AttachmentRefused, match="open serious incident"):
        remove_attachment_content(made, reason="Period over", by=by, at=NOON)


class TestPages:
    URL = reverse("inspections:retention")

    @pytest.fixture
    def page(self, client, by, time_machine):
        time_machine.move_to(NOON, tick=False)
        client.force_login(by)
        return client

    def test_the_rules_are_shown_with_their_sources_and_the_files_past_them(self, page, by):
        text = page.get(self.URL).text
        assert "Disposal Schedule, section D, D1" in text and "Confirm locally" in text
        assert "There is nothing to do here" in text
        made = attach(by, title="Old letter", machine=long_retired(by))
        assert "Old letter" in page.get(self.URL).text
        page.post(reverse("inspections:attachment_remove", args=[made.pk]), {"reason": "Period over"})
        assert "Period over" in page.get(made.get_absolute_url()).text
        assert page.get(reverse("inspections:attachment_download", args=[made.pk])).status_code == 404
        assert "Old letter" not in page.get(self.URL).text

    def test_a_refusal_is_said_on_the_page(self, page, by):
        made = attach(by, machine=make_machine(by=by))
        remove = reverse("inspections:attachment_remove", args=[made.pk])
        assert "That period is not over." in page.get(remove).text
        assert "is to be kept" in page.post(remove, {"reason": "x"}).text

    def test_who_may_not_remove_is_offered_nothing(self, client, by):
        made = attach(by, machine=long_retired(by))
        client.force_login(make_person("technician"))
        remove = reverse("inspections:attachment_remove", args=[made.pk])
        assert remove not in client.get(self.URL).text
        assert {client.get(remove).status_code, client.post(remove, {"reason": "x"}).status_code} == {403}

    def test_the_page_asks_a_fixed_number_of_queries(self, page, by):
        machine = long_retired(by)
        attach(by, machine=machine)

        def queries():
            with CaptureQueriesContext(connection) as captured:
                page.get(self.URL)
            return len(captured)

        page.get(self.URL)
        few = queries()
        for number in range(8):
            attach(make_person(), f"words {number}", component=make_component(machine, label=f"Valve {number}"))
        assert queries() == few
