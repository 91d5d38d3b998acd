"""Several items of a notice settled at once: the same words on each, all or none."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspections.actions import close_notice, settle_item, settle_items
from inspections.errors import Refused
from inspections.models import NoticeItem
from tests.factories import NOON, make_area, make_machine, make_person, make_site
from tests.inspections.notices.scenes import make_notice, name, regulator, searched
from tests.inspections.notices.test_pages import signed_in

pytestmark = pytest.mark.django_db
WORDS = {"state": "done", "words": "Replaced; work sheets 3 to 5"}


def notice_of(*machines):
    for machine in machines:
        regulator(machine, lot="R-24")
    notice = make_notice()
    name(notice)
    return searched(notice)


def address(notice):
    return reverse("inspections:notice_settle", args=[notice.pk])


def states(notice):
    return sorted(notice.items.values_list("state", flat=True))


def test_what_is_ticked_is_settled_and_the_rest_stays_open():
    notice = notice_of(None, None, None)
    client, (first, second, _) = signed_in("technician"), notice.items.order_by("pk")
    assert address(notice) in client.get(notice.get_absolute_url()).text
    answer = client.post(address(notice), {**WORDS, "ticked": [first.pk, second.pk]}, follow=True)
    assert "2 items settled" in answer.text and states(notice) == ["done", "done", "open"]
    first.refresh_from_db()
    assert first.words == WORDS["words"] and first.settled_by.groups.get().name == "technician"


def test_all_that_are_shown_are_settled_by_one_press():
    notice = notice_of(None, None)
    client = signed_in("planner")
    client.post(address(notice), {**WORDS, "all": "1"})
    assert states(notice) == ["done", "done"]
    assert "No item is open" in client.get(address(notice)).text
    close_notice(notice, note="Answered", by=None, at=NOON)
    assert address(notice) not in client.get(notice.get_absolute_url()).text


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        (WORDS, "No item is ticked"),
        ({"state": "done", "words": " ", "all": "1"}, "This field is required"),
        ({"state": "open", "words": "Again", "all": "1"}, "not one of the available choices"),
        ({**WORDS, "ticked": ["nothing"]}, "not a valid value"),
    ],
)
def test_what_cannot_be_meant_is_refused_and_stores_nothing(sent, says):
    notice = notice_of(None, None)
    answer = signed_in("planner").post(address(notice), sent)
    assert says in answer.text and states(notice) == ["open", "open"]


def test_an_item_that_was_settled_meanwhile_stops_all():
    notice = notice_of(None, None)
    first, second = items = list(notice.items.order_by("pk"))
    settle_item(second, state="gone", words="Sold", by=None, at=NOON)
    with pytest.raises(Refused, match="settled meanwhile"):
        settle_items(items, **WORDS, by=make_person("planner"), at=NOON)
    assert states(notice) == ["gone", "open"]
    answer = signed_in("planner").post(address(notice), {**WORDS, "ticked": [first.pk, second.pk]})
    assert "is not open any more" in answer.text and states(notice) == ["gone", "open"]


def test_an_auditor_settles_nothing_and_a_person_of_one_site_only_its_own():
    mine = make_site()
    notice = notice_of(make_machine(area=make_area(mine), asset_number="MINE"), make_machine(asset_number="OTHER"))
    assert signed_in("auditor").get(address(notice)).status_code == 403
    client = signed_in("technician", sites=[mine])
    page = client.get(address(notice)).text
    assert "MINE" in page and "OTHER" not in page
    theirs = NoticeItem.objects.get(component__machine__asset_number="OTHER")
    assert "is not open any more" in client.post(address(notice), {**WORDS, "ticked": [theirs.pk]}).text
    client.post(address(notice), {**WORDS, "all": "1"})
    assert states(notice) == ["done", "open"]


def test_the_page_asks_a_fixed_number_of_queries():
    notice, client, counts = notice_of(None), signed_in("planner"), []
    for _ in range(2):
        with CaptureQueriesContext(connection) as caught:
            client.get(address(notice))
        counts.append(len(caught))
        for _ in range(5):
            regulator(lot="R-24")
        searched(notice)
    assert counts[0] == counts[1]
