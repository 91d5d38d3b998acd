"""Time that runs backwards, and a date that is not that of the deed, are refused or reported."""

from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.acting.scope import acting, history
from fleet.actions import change_site
from fleet.journal.checking import CLOCK_SKEW
from fleet.models import JournalLink
from inspections.actions import amend_inspection, countersign_inspection, sign_inspection
from inspections.errors import TimeRefused
from inspections.models import ChainEntry, Inspection
from tests.factories import make_person, make_site
from tests.inspections.chain.store import troubles
from tests.inspections.scenes import make_scene

pytestmark = pytest.mark.real_journal
DAYS = timedelta(days=60)


@pytest.fixture
def scene(db, tmp_path):
    """Opened and measured just now, by the clock."""
    now = timezone.now()
    with acting("test"):
        scene = make_scene(tmp_path, at=now)
        scene.complete(at=now)
    return scene


def sign(scene, at):
    return sign_inspection(scene.inspection, by=scene.technician, at=at)


def kinds():
    return [(one.kind, one.field) for one in troubles()]


def test_work_of_the_day_verifies(scene):
    sign(scene, timezone.now())
    countersign_inspection(scene.inspection, by=scene.other, at=timezone.now())
    amend_inspection(scene.inspection, correction="a", reason="b", by=scene.other, at=timezone.now())
    assert kinds() == []


def test_clocks_may_differ_by_a_little(scene):
    sign(scene, timezone.now())
    countersign_inspection(scene.inspection, by=scene.other, at=timezone.now() - CLOCK_SKEW / 2)
    assert kinds() == []


@pytest.mark.parametrize("shift", [-DAYS, -timedelta(hours=1), timedelta(hours=1), DAYS])
def test_a_signature_dated_otherwise_than_it_was_made_is_reported_by_name(scene, shift):
    sign(scene, timezone.now() + shift)
    found = [one for one in troubles() if one.inspection == scene.inspection.pk]
    said = [(one.kind, one.what) for one in found]
    assert ("time", "date of the signature differs from the time it was made") in said
    before_work = any("before the work" in one.what for one in found)
    assert before_work == (shift < timedelta(0))


def test_a_countersignature_earlier_than_the_signature_is_refused_with_both_times(scene):
    sign(scene, timezone.now())
    with pytest.raises(TimeRefused, match="Nothing was saved. Correct the server clock"):
        countersign_inspection(scene.inspection, by=scene.other, at=timezone.now() - DAYS)
    assert Inspection.objects.get(pk=scene.inspection.pk).stage == "signed" and kinds() == []


def test_a_setting_lets_work_go_on_after_a_clock_was_ahead_and_it_is_reported(scene, settings):
    sign(scene, timezone.now() + DAYS)
    settings.ACCEPT_EARLIER_TIME = True
    countersign_inspection(scene.inspection, by=scene.other, at=timezone.now())
    assert ("time", "at") in [(one.kind, one.field) for one in troubles() if "out of time order" in one.what]


def test_history_after_work_of_the_day_is_reported(scene):
    sign(scene, timezone.now())
    with history():
        amend_inspection(scene.inspection, correction="a", reason="b", by=scene.other, at=timezone.now() - DAYS)
    assert ("time", "mode") in kinds()


def test_a_clock_set_back_between_two_entries_is_reported(scene, time_machine_at):
    sign(scene, timezone.now())
    later = timezone.now() - DAYS
    with history(), time_machine_at(later):
        amend_inspection(scene.inspection, correction="a", reason="b", by=scene.other, at=later)
        change_site(scene.machine.site, name="Earlier", by=scene.other, at=later)
    found = [(one.kind, one.field) for one in troubles() if "out of time order" in one.what]
    assert ("time", "recorded_at") in found
    assert any(one.kind == "time" and "of the journal runs backwards" in one.what for one in troubles())


def test_what_was_made_in_the_future_is_reported(scene, time_machine_at):
    sign(scene, timezone.now())
    with time_machine_at(timezone.now() - DAYS):
        found = [one.what for one in troubles() if one.kind == "time"]
    assert "signature made in the future" in found
    assert any(what.endswith("of the journal is of the future") for what in found)


def test_an_action_dated_otherwise_than_it_was_done_is_reported(db):
    with acting("test"):
        by, site = make_person(), make_site()
    change_site(site, name="Now", by=by, at=timezone.now())
    assert kinds() == []
    change_site(site, name="Long ago", by=by, at=timezone.now() - DAYS)
    [trouble] = troubles()
    assert trouble.kind == "time" and "change_site was dated otherwise" in trouble.what
    assert f"link {JournalLink.objects.count()}" in trouble.what


def test_an_entry_says_when_it_was_made_by_the_clock(scene):
    before = timezone.now()
    sign(scene, before)
    content = ChainEntry.objects.get().content
    assert '"mode":"live"' in content and f'"recorded_at":"{before:%Y-%m-%d}' in content
