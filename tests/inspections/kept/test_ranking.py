"""The ranking from kept reviews is the ranking that the review computes."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from fleet.models import CircuitCover, Machine
from inspections.actions import judge_criterion, report_fault, weigh_review
from inspections.kept.keeping import compare, fill
from inspections.kept.ranking import KeptRanking
from inspections.kept.reviews import REVIEWS, renew_marked, reviews_hold
from inspections.models import KeptReview
from inspections.retirement.gathering import rank_machines
from inspections.review import DEFAULT_WEIGHTS, HAZARD_WEIGHTS, Conclusion
from inspections.tables.review import KeptReviewTable, ReviewTable
from tests.factories import NOON, TODAY, make_area, make_circuit_cover, make_machine, make_person

pytestmark = pytest.mark.renewed_at_once


def shown(ranked):
    """Return what a list shows of ranked machines."""
    return [
        (
            each.machine.asset_number, each.place.place, each.place.exposure, each.place.burden, each.place.decided_by,
            each.review.conclusion, each.review.is_provisional,
            *([answer.criterion.code for answer in getattr(each.review, name)]
              for name in ("absolute_met", "relative_met", "open_questions")),
        )
        for each in ranked
    ]  # fmt: skip


def agrees(day, condition=None, kept_condition=None):
    """Compare the ranking of the machines that a condition selects with that of their kept reviews."""
    assert reviews_hold(day) and list(compare(REVIEWS)) == []
    kept = KeptRanking(KeptReview.objects.filter(kept_condition or Q()))
    computed = rank_machines(Machine.objects.not_retired().filter(condition or Q()), day)
    assert shown(kept.shown(kept.rows)) == shown(computed)
    conclusions = [each.review.conclusion for each in computed]
    assert kept.counts == [(one, conclusions.count(one)) for one in Conclusion] and kept.total == len(computed)
    assert kept.provisional == sum(each.review.is_provisional for each in computed)
    return computed


@pytest.fixture
def fleet(db):
    fill(REVIEWS, at=NOON, day=TODAY)
    areas = make_area(), make_area()
    states = ({"ratio-protection": "not fitted"}, {"ratio-protection": "fitted"}, {}, {}, {})
    machines = [make_machine(features=one, area=areas[number % 2]) for number, one in enumerate(states)]
    person = make_person("manager")
    for number in range(3):
        report_fault(machines[2], title="Sticks", severity="other", by=person, at=NOON - timedelta(days=9 * number))
    judge_criterion(machines[1], "R8", answer="met", reason="Seen", by=person, at=NOON)
    return machines


def test_places_counts_and_what_decides_are_those_of_the_review(fleet):
    computed = agrees(TODAY)
    assert len({each.place.place for each in computed}) < len(computed), "some machines share a place"


def test_the_ranking_of_an_area_is_that_of_its_machines_among_one_another(fleet):
    area = fleet[0].area
    assert len(agrees(TODAY, Q(area=area), Q(area=area))) == 3


def test_the_weights_of_a_site_rank_its_machines_anew(fleet):
    hazards = {code: Decimal(number % 7) for number, code in enumerate(HAZARD_WEIGHTS)}
    burden = dict.fromkeys(DEFAULT_WEIGHTS, Decimal(1))
    before = shown(agrees(TODAY))
    by = make_person("manager")
    weigh_review(fleet[0].area.site, hazards=hazards, burden=burden, reason="Ours", by=by, at=NOON)
    assert shown(agrees(TODAY)) != before


def test_a_circuit_that_is_computed_renews_the_reviews_of_its_machines(fleet):
    before = shown(agrees(TODAY))
    kept = make_circuit_cover(fleet[3], open={"barotrauma": (2, 1, 1)})
    assert not reviews_hold(TODAY), "until the transaction that stores it ends"
    renew_marked("default")
    assert shown(agrees(TODAY)) != before
    CircuitCover.objects.get(pk=kept.cover_id).save(update_fields=["title"])
    assert not reviews_hold(TODAY)


def test_another_day_ranks_anew(fleet):
    later = TODAY + timedelta(days=800)
    assert not reviews_hold(later)
    fill(REVIEWS, at=NOON, day=later)
    assert shown(agrees(later)) != shown(rank_machines(Machine.objects.all(), TODAY))


@pytest.mark.parametrize("sort", ["place", "machine", "-machine", "exposure", "-exposure", "burden", "-burden"])
def test_the_page_sorts_kept_reviews_as_computed_ones(fleet, sort):
    ranking = KeptRanking(KeptReview.objects.all())
    kept, computed = KeptReviewTable(ranking.rows), ReviewTable(rank_machines(Machine.objects.all(), TODAY))
    kept.order_by = computed.order_by = sort
    assert shown(ranking.shown(kept.data.data)) == shown(row.record for row in computed.rows)


@pytest.mark.parametrize("query", ["", "?area={}", "?conclusion=keep", "?sort=-burden"])
def test_the_page_reads_kept_reviews_and_shows_what_it_would_compute(client, fleet, query):
    today = timezone.localdate()
    fill(REVIEWS, at=NOON, day=today)
    client.force_login(make_person("manager", username="head"))
    address = reverse("inspections:review") + query.format(fleet[0].area_id)
    pages = [client.get(address)]
    KeptReview.objects.filter(pk=fleet[0].pk).update(day=None)
    pages.append(client.get(address))
    kept, computed = (page.context["table"] for page in pages)
    assert (type(kept), type(computed)) == (KeptReviewTable, ReviewTable)
    assert shown(row.record for row in kept.page) == shown(row.record for row in computed.page) != []
    for name in ("counts", "total", "provisional", "weighed"):
        assert pages[0].context[name] == pages[1].context[name]
