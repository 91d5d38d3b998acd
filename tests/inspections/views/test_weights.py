"""Weights of the review: on the page, changeable for a site with author and reason, named by every ranking."""

import pytest
from django.urls import reverse
from django.utils import timezone

from inspections.forms.weights import BURDEN, HAZARD
from inspections.kept.keeping import fill
from inspections.kept.reviews import REVIEWS
from inspections.models import KeptRules, ReviewWeights
from inspections.review import DEFAULT_WEIGHTS, HAZARD_WEIGHTS
from inspections.tables.review import KeptReviewTable
from tests.factories import make_area, make_machine, make_person, make_site
from tests.inspections.fleet_choice_rows import make_review_weights


@pytest.fixture
def manager(client, db):
    person = make_person("manager")
    client.force_login(person)
    return person


@pytest.fixture
def site(db):
    return make_site(name="East hospital")


def filled(**changes):
    data = {f"{HAZARD}{code}": f"{value:g}" for code, value in HAZARD_WEIGHTS.items()}
    data |= {f"{BURDEN}{code}": f"{value:g}" for code, value in DEFAULT_WEIGHTS.items()}
    return {**data, "reason": "The board of March", **changes}


def change(client, site, **changes):
    return client.post(reverse("inspections:weights_change", args=[site.pk]), filled(**changes))


def test_weights_are_stored_as_a_new_version_with_author_and_reason(client, manager, site):
    assert change(client, site, **{f"{HAZARD}barotrauma": "9.5"}).status_code == 302
    change(client, site, reason="Back again")
    first, second = ReviewWeights.objects.order_by("pk")
    assert (first.hazards["barotrauma"], first.by, first.reason) == ("9.5", manager, "The board of March")
    page = client.get(reverse("inspections:review_weights", args=[site.pk])).content.decode()
    assert "The board of March" in page and "none differs from the default" in page


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"reason": " "}, "required"),
        ({f"{HAZARD}barotrauma": "-1"}, "greater than or equal to 0"),
        ({f"{HAZARD}barotrauma": "9.55"}, "1 decimal place"),
        ({f"{BURDEN}{code}": "0" for code in DEFAULT_WEIGHTS}, "At least one part of the burden"),
    ],
)
def test_weights_that_cannot_be_are_refused_with_a_sentence(client, manager, site, changes, said):
    response = change(client, site, **changes)
    assert response.status_code == 200 and said in response.content.decode()
    assert not ReviewWeights.objects.exists()


@pytest.mark.parametrize("is_kept", [True, False])
def test_the_review_ranks_by_the_weights_of_each_site_and_says_which(client, manager, site, is_kept):
    """As kept for the day, and as computed for the page while nothing is kept."""
    other, by = make_site(), manager
    lacks = {"ratio-protection": "not fitted"}  # A1, which leaves the hypoxic mixture open, weight 10
    first = make_machine(area=make_area(other), features=lacks, asset_number="A-1")
    second = make_machine(area=make_area(site), features=lacks, asset_number="B-1")
    make_review_weights(site, by, hypoxic_mixture="20")
    KeptRules.objects.filter(kind=REVIEWS.name).delete()
    if is_kept:
        fill(REVIEWS, at=timezone.now(), day=timezone.localdate())
    response = client.get(reverse("inspections:review"))
    assert isinstance(response.context["table"], KeptReviewTable) == is_kept
    ranked = {row.record.machine.pk: row.record.place for row in response.context["table"].paginated_rows}
    assert ranked[second.pk].exposure == 20 and ranked[first.pk].exposure == 10
    assert ranked[second.pk].place == 1 and ranked[first.pk].decided_by == "hazard weight"
    page = response.content.decode()
    assert "Decided by the board" in page and "the default weights" in page


def test_the_page_of_a_machine_uses_the_weights_of_its_site(client, manager, site):
    machine = make_machine(area=make_area(site), features={"ratio-protection": "not fitted"})
    make_review_weights(site, manager, hypoxic_mixture="20")
    assert client.get(reverse("inspections:review_machine", args=[machine.pk])).context["weight"] == 20


def test_the_page_shows_every_weight_with_the_range_in_which_the_first_stay(client, manager, site):
    make_machine(area=make_area(site), features={"ratio-protection": "not fitted"})
    response = client.get(reverse("inspections:review_weights", args=[site.pk]))
    assert len(response.context["rows"]) == len(HAZARD_WEIGHTS) + len(DEFAULT_WEIGHTS)
    assert "half less to half more: no change" in response.content.decode()


def test_only_who_weighs_reviews_may_set_weights(client, site):
    client.force_login(make_person("planner"))
    assert change(client, site).status_code == 403
    client.force_login(make_person("manager", sites=[make_site()]))
    assert change(client, site).status_code == 404
