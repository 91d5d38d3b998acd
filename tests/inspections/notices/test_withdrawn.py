"""A criterion that the notice does not name is withdrawn or corrected; what it alone had found is closed."""

import pytest
from django.urls import reverse

from fleet.models import ChangeEntry
from inspections.actions import close_notice, correct_criterion, match_notice, settle_item, withdraw_criterion
from inspections.errors import NoticeRefused
from inspections.models import NoticeCriterion
from inspections.reports.notice import notice_content
from tests.factories import NOON, make_person
from tests.inspections.notices.scenes import KIND, answers, make_notice, name, regulator, searched

LOT_24 = "R-24"


@pytest.fixture
def planner(db):
    return make_person("planner")


@pytest.fixture
def notice(planner):
    """Names lots R-20 to R-29 and, in error, every regulator of lot S-1; one regulator of each is fitted."""
    regulator(lot=LOT_24)
    regulator(lot="S-1")
    made = make_notice(planner)
    name(made, by=planner)
    name(made, by=planner, lots="S-1")
    return searched(made, planner)


def wrong(notice):
    return notice.criteria.get(lots="S-1")


def states(notice):
    return {item.component.lot: item.state for item in notice.items.filter(component__isnull=False)}


def withdraw(criterion, by, reason="Page 2 names other lots."):
    withdraw_criterion(criterion, reason=reason, by=by, at=NOON)
    return searched(criterion.notice, by)


def test_what_it_alone_had_found_is_closed_with_the_reason_and_the_rest_stays(notice, planner):
    withdraw(wrong(notice), planner)
    assert states(notice) == {LOT_24: "open", "S-1": "not named"}
    closed = notice.items.get(component__lot="S-1")
    assert "Page 2 names other lots." in closed.words and "S-1" in closed.words
    assert (closed.settled_by, closed.match) == (planner, "changed")
    assert closed.reason == "No line in force of the notice names it."
    changes = ChangeEntry.objects.count()
    match_notice(notice, by=planner, at=NOON)
    assert ChangeEntry.objects.count() == changes


def test_what_another_line_finds_too_stays_open_and_what_was_settled_keeps_its_words(notice, planner):
    name(notice, by=planner, lots="R-24, R-25")
    match_notice(notice, by=planner, at=NOON)
    withdraw(notice.criteria.get(lots="R-24, R-25"), planner)
    assert states(notice)[LOT_24] == "open"
    item = notice.items.get(component__lot="S-1")
    settle_item(item, state="done", words="Replaced", by=planner, at=NOON)
    withdraw(wrong(notice), planner)
    item.refresh_from_db()
    assert (item.state, item.words) == ("done", "Replaced")


def test_when_every_line_is_withdrawn_nothing_is_concerned_any_more(notice, planner):
    for criterion in notice.criteria.all():
        withdraw_criterion(criterion, reason="Of another department", by=planner, at=NOON)
    match_notice(notice, by=planner, at=NOON)
    assert set(notice.items.values_list("state", flat=True)) == {"not named"}
    close_notice(notice, note="Not for us", by=planner, at=NOON)


def test_a_changed_record_alone_closes_nothing(notice, planner):
    component = notice.items.get(component__lot="S-1").component
    type(component).objects.filter(pk=component.pk).update(lot="T-9")
    match_notice(notice, by=planner, at=NOON)
    assert states(notice)["T-9"] == "open"
    withdraw(wrong(notice), planner)
    assert states(notice)["T-9"] == "open"  # its line would not find it: somebody has to look


def test_a_line_that_names_it_again_opens_it_and_the_closed_notice(notice, planner):
    withdraw(wrong(notice), planner)
    for item in notice.items.open():
        settle_item(item, state="done", words="Replaced", by=planner, at=NOON)
    close_notice(notice, note="Answered", by=planner, at=NOON)
    name(notice, by=planner, lots="S-1, S-2")
    assert searched(notice, planner).is_open
    assert states(notice)["S-1"] == "open"


def test_a_correction_puts_another_line_in_its_place(notice, planner):
    regulator(lot="S-2")
    correct_criterion(
        wrong(notice), reason="Misread", what="component", kind=KIND, lots="S-2", by=planner, at=NOON
    )  # fmt: skip
    match_notice(notice, by=planner, at=NOON)
    assert states(notice) == {LOT_24: "open", "S-1": "not named", "S-2": "open"}
    assert notice.criteria.in_force().count() == 2


def test_it_is_refused_without_a_reason_a_second_time_and_with_a_line_that_cannot_be_read(notice, planner):
    with pytest.raises(NoticeRefused, match="State why"):
        withdraw_criterion(wrong(notice), reason="  ", by=planner, at=NOON)
    with pytest.raises(NoticeRefused):
        correct_criterion(
            wrong(notice), reason="Misread", what="component", kind=KIND, lots="A9 to A1", by=planner, at=NOON
        )
    assert not NoticeCriterion.objects.withdrawn().exists()
    criterion = wrong(notice)
    withdraw(criterion, planner)
    with pytest.raises(NoticeRefused, match="withdrawn already"):
        withdraw_criterion(criterion, reason="Again", by=planner, at=NOON)


def test_the_proof_tells_of_it(notice, planner):
    withdraw(wrong(notice), planner)
    content = notice_content(notice, list(notice.items.with_place()))
    assert len(content["criteria"]) == 1
    [line] = content["withdrawn_criteria"]
    assert (line["reason"], line["by"], line["at"]) == ("Page 2 names other lots.", str(planner), NOON.isoformat())
    assert "S-1" in line["criterion"]


def test_the_pages_withdraw_and_correct_and_say_so(client, notice, planner):
    client.force_login(planner)
    criterion = wrong(notice)
    url = reverse("inspections:notice_criterion_correct", args=[criterion.pk])
    assert "S-1" in client.get(url).content.decode()
    fields = {"what": "component", "kind": KIND, "lots": "S-3", "reason": ""}
    assert client.post(url, fields).context["form"].errors["reason"]
    assert client.post(url, fields | {"reason": "Misread"}).status_code == 302
    page = client.get(notice.get_absolute_url()).content.decode()
    assert "Misread" in page and "no longer concerned since what named them was withdrawn" in page
    url = reverse("inspections:notice_criterion_withdraw", args=[notice.criteria.get(lots="S-3").pk])
    client.post(url, {"reason": "No such lot"})
    assert client.get(url).status_code == 404
    assert client.get(reverse("inspections:notice_proof", args=[notice.pk])).status_code == 200
    assert "undecided" not in answers(notice).values()


def test_only_who_enters_notices_withdraws(client, notice):
    url = reverse("inspections:notice_criterion_withdraw", args=[wrong(notice).pk])
    client.force_login(make_person("technician"))
    assert client.post(url, {"reason": "No"}).status_code == 403
    assert not NoticeCriterion.objects.withdrawn().exists()
