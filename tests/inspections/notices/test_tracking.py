"""From the arrival of a notice to its proof: items, work, settling, closing, and what arrives later."""

from datetime import timedelta

import pytest

from fleet.actions import correct_machine, retire_machine
from fleet.extensions import tell_imported
from fleet.models import Job
from inspections.actions import (
    close_notice,
    match_notice,
    open_finding_of_item,
    plan_work_of_item,
    settle_item,
)
from inspections.errors import NoticeRefused
from inspections.jobs.notices import MATCH_ALL
from inspections.models import NoticeItem, Procedure
from tests.factories import NOON, TODAY, load_all_procedures, make_machine, make_person
from tests.inspections.notices.scenes import make_notice, name, regulator, removed_regulator, searched

pytestmark = pytest.mark.django_db
LATER = NOON + timedelta(days=1)


@pytest.fixture
def by():
    return make_person("planner")


@pytest.fixture
def notice(by):
    regulator(lot="R-24")
    made = make_notice(by)
    name(made)
    return searched(made)


def settle(item, by, state="done", words="Replaced, paper 12"):
    return settle_item(item, state=state, words=words, by=by, at=LATER)


def close(notice, by):
    return close_notice(notice, note="Sent by letter.", by=by, at=LATER)


def test_what_arrives_later_is_added_and_opens_a_closed_notice_again(notice, by):
    settle(notice.items.get(), by)
    close(notice, by)
    assert match_notice(notice, at=LATER) == 0 and not searched(notice).is_open
    late = regulator(lot="R-21")
    assert match_notice(notice, at=LATER) == 1
    assert notice.items.get(component=late).is_open and searched(notice).is_open


def test_a_search_removes_nothing_and_says_what_is_concerned_no_longer(by):
    machine = make_machine(serial="")
    notice = make_notice(by)
    name(notice, what="machine", kind="", lots="", serials="A1 to A9")
    searched(notice)
    correct_machine(machine, serial="Z1", by=by, at=LATER)
    searched(notice)
    item = notice.items.get()
    assert item.match == "changed" and item.is_open and "Confirm" in item.reason


def test_an_item_settled_as_not_concerned_opens_again_when_its_serial_says_otherwise(by):
    machine = make_machine(serial="")
    notice = make_notice(by)
    name(notice, what="machine", kind="", lots="", serials="A1 to A9")
    item = searched(notice).items.get()
    settle(item, by, "not concerned", "The plate says Z1.")
    correct_machine(machine, serial="A5", by=by, at=LATER)
    searched(notice)
    item.refresh_from_db()
    assert (item.state, item.match) == ("open", "concerned")


def test_a_notice_is_closed_only_after_every_item_and_with_a_note(notice, by):
    with pytest.raises(NoticeRefused, match="1 of its items are open"):
        close(notice, by)
    settle(notice.items.get(), by)
    with pytest.raises(NoticeRefused, match="State how"):
        close_notice(notice, note=" ", by=by, at=LATER)
    close(notice, by)
    with pytest.raises(NoticeRefused, match="already closed"):
        close(notice, by)
    with pytest.raises(NoticeRefused, match="do not change any more"):
        settle(notice.items.get(), by)


def test_a_notice_that_was_never_searched_cannot_be_closed(by):
    with pytest.raises(NoticeRefused, match="before the register was searched"):
        close(make_notice(by), by)


def test_an_item_is_settled_with_words_who_and_when(notice, by):
    item = notice.items.get()
    with pytest.raises(NoticeRefused, match="State what was done"):
        settle(item, by, words="  ")
    settle(item, by, "gone", "Sold with its machine, to the veterinary school.")
    held = NoticeItem.objects.get()
    assert (held.state, held.settled_by, held.settled_at) == ("gone", by, LATER)


def test_work_is_opened_once_on_what_is_there(notice, by):
    load_all_procedures()
    item = notice.items.get()
    finding = open_finding_of_item(item, severity="essential", by=by, at=LATER)
    assert (finding.machine, finding.origin) == (item.machine, "notice") and "FSN-7" in finding.title
    with pytest.raises(NoticeRefused, match="already opened"):
        plan_work_of_item(item, procedure=Procedure.objects.get(code="yearly"), due_on=TODAY, by=by, at=LATER)


def test_no_work_is_opened_on_what_was_removed_or_retired(by):
    removed, retired = removed_regulator(lot="R-24"), regulator(lot="R-25")
    retire_machine(retired.machine, by=by, at=NOON, reason="Old")
    notice = make_notice(by)
    name(notice)
    searched(notice)
    for component in (removed, retired):
        item = notice.items.get(component=component)
        with pytest.raises(NoticeRefused, match="No work can be opened"):
            open_finding_of_item(item, severity="other", by=by, at=LATER)
    assert set(notice.items.without_work().values_list("component", flat=True)) <= {None}


def test_planned_work_names_the_notice(notice, by):
    load_all_procedures()
    yearly = Procedure.objects.get(code="yearly")
    planned = plan_work_of_item(notice.items.get(), procedure=yearly, due_on=TODAY, by=by, at=LATER)
    assert "FSN-7" in planned.note and NoticeItem.objects.get().planned == planned


def test_the_same_notice_is_entered_once_and_an_unreadable_range_is_refused(notice, by):
    with pytest.raises(NoticeRefused, match="already entered"):
        make_notice(by)
    with pytest.raises(NoticeRefused, match="Enter it as"):
        name(notice, lots="A1 to B2")


def test_an_import_asks_for_a_search_only_where_there_is_a_notice(by):
    tell_imported(by=by, at=NOON)
    assert not Job.objects.filter(kind=MATCH_ALL).exists()
    make_notice(by)
    tell_imported(by=by, at=NOON)
    assert Job.objects.filter(kind=MATCH_ALL).count() == 1
