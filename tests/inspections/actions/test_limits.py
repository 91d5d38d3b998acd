"""Limits of a machine model or a site."""

from datetime import timedelta

import pytest

from fleet.errors import Refused
from inspections.actions import end_limit_override, set_limit_override
from inspections.bench import get_test
from inspections.models import LimitOverride, Proposal
from inspections.proposals.limit_acts import RENAMED, SettingLimit
from tests.factories import NOON, TODAY, make_model, make_person, make_site

TRIP = next(spec.key for spec in get_test("supply-failure").results if spec.label == "Trip pressure")


def set_limit(**fields):
    defaults = {
        "test_code": "supply-failure",
        "result_key": TRIP,
        "lower": 26.0,
        "unit": "psi",
        "reason": "The manufacturer sets it higher",
        "source": "Service manual, section 7",
        "from_date": TODAY,
        "by": make_person("planner"),
        "at": NOON,
    }
    if "site" not in fields:
        defaults["machine_model"] = make_model()
    return set_limit_override(**{**defaults, **fields})


def test_a_limit_is_in_force_from_its_first_day_until_its_end(db):
    limit = set_limit()
    end_limit_override(limit, until_date=TODAY + timedelta(days=10), by=None, at=NOON)
    days = [day for day in range(-1, 12) if LimitOverride.objects.in_force(TODAY + timedelta(days=day)).exists()]
    assert days == list(range(10))


def test_a_limit_that_an_earlier_version_proposed_is_read_with_its_names(db):
    fields = {"test_code": "supply-failure", "result_key": TRIP, "lower": 26.0, "unit": "psi", "source": "A manual"}
    asked = SettingLimit({**fields, "from_date": TODAY, "site": make_site()}).asked
    earlier = {new: old for old, new in RENAMED.items()}
    proposal = Proposal(asked={earlier.get(name, name): value for name, value in asked.items()})
    assert proposal.asked != asked
    assert SettingLimit.of(proposal).asked == asked


def test_an_ended_limit_keeps_its_end(db):
    limit = set_limit()
    end_limit_override(limit, until_date=TODAY, by=None, at=NOON)
    with pytest.raises(Refused, match="already has an end date"):
        end_limit_override(limit, until_date=TODAY + timedelta(days=90), by=None, at=NOON)


def test_a_limit_does_not_end_before_it_begins(db):
    with pytest.raises(Refused, match="cannot end before"):
        end_limit_override(set_limit(), until_date=TODAY - timedelta(days=1), by=None, at=NOON)


@pytest.mark.parametrize(
    "fields, says",
    [
        ({"test_code": "no-such-test"}, "no-such-test"),
        ({"result_key": "no-such-result"}, "has no result"),
        ({"rule": "no-such-rule", "lower": None}, "no rule"),
        ({"unit": "furlong"}, "furlong"),
        ({"unit": "L/min"}, "does not measure that"),
        ({"lower": None}, "lower limit, an upper limit or both"),
        ({"lower": 30.0, "upper": 20.0}, "lower not above the upper"),
        ({"reason": " "}, "needs the reason"),
        ({"source": ""}, "needs the source"),
        ({"machine_model": None}, "one of the two"),
    ],
)
def test_a_limit_that_cannot_be_is_refused(db, fields, says):
    with pytest.raises(Refused, match=says):
        set_limit(**fields)
    assert not LimitOverride.objects.exists()


def test_a_limit_for_both_a_model_and_a_site_is_refused(db):
    with pytest.raises(Refused, match="one of the two"):
        set_limit(site=make_site(), machine_model=make_model())


def test_somebody_narrowed_to_a_site_sees_the_limits_of_models_and_of_that_site_only(db):
    here, there = make_site(), make_site()
    person = make_person("planner", sites=[here])
    of_model, of_here, of_there = set_limit(), set_limit(site=here), set_limit(site=there)
    assert set(LimitOverride.objects.visible_to(person)) == {of_model, of_here}
    assert set(LimitOverride.objects.changeable_by(person)) == {of_here}
    assert of_there in LimitOverride.objects.visible_to(make_person("planner"))
