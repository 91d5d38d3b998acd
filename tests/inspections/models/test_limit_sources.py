"""A limit names its source and its reason, or is refused everywhere; what was kept from before judges nothing."""

import pytest
from django.db import IntegrityError, transaction
from hypothesis import given
from hypothesis import strategies as st

from inspections.actions import set_limit_override
from inspections.at_bench.evaluation import Evaluator
from inspections.errors import Refused
from inspections.models import LimitOverride
from inspections.models.limit_sources import NO_SOURCE, names_something
from tests.decisions import decision
from tests.factories import NOON, TODAY, make_person, make_site

LIMIT = {"test_code": "supply-failure", "result_key": "trip_pressure", "lower": 26.0, "unit": "psi",
         "from_date": TODAY, "reason": "Agreed locally", "source": "Service manual, section 7"}  # fmt: skip
NOTHING = ["", " ", "none", "None", " NONE. ", "n/a", "-", "?", "\u200bnone\u200b", "\u00a0", "“none”",
           "12", "unknown", "no source", "tbd", "ｎｏｎｅ"]  # fmt: skip
AROUND = st.text(st.sampled_from(" .,;:!?-–_()'\u00a0\u200b\t\n"), max_size=4)


@given(word=st.sampled_from(NO_SOURCE), before=AROUND, after=AROUND, upper=st.booleans())
def test_a_word_for_nothing_names_nothing_however_it_is_dressed(word, before, after, upper):
    assert not names_something(before + (word.upper() if upper else word) + after)


@pytest.mark.parametrize(
    "text", ["EN 740:1998, 8.2", "Service manual, page 41", "Dr Nowak, 3 May 2026", "IEC 60601-2-13"]
)
def test_a_source_that_can_be_looked_up_is_taken(text):
    assert names_something(text)


@pytest.mark.parametrize("field", ["source", "reason"])
@pytest.mark.parametrize("text", NOTHING)
def test_the_action_refuses_it(db, field, text):
    with pytest.raises(Refused, match=field):
        set_limit_override(**{**LIMIT, field: text}, site=make_site(), by=make_person("planner"), at=NOON)
    assert not LimitOverride.objects.exists()


@pytest.mark.parametrize("field", ["source", "reason"])
@pytest.mark.parametrize("text", ["none", "n/a", "\u200bnone"])
def test_the_form_refuses_it_beside_the_field(client, db, field, text):
    client.force_login(make_person("planner"))
    data = {"site": make_site().pk, "result": "supply-failure/trip_pressure", "lower": "26", "unit": "psi",
            "from_date": TODAY, "source": "Service manual, section 7"}  # fmt: skip
    page = client.post("/library/limits/add/", {**data, **decision(), field: text})
    assert page.context["form"].errors[field] and not LimitOverride.objects.exists()


@pytest.mark.parametrize("field", ["source", "reason"])
@pytest.mark.parametrize("text", ["", "  ", "None", "N/A ", "-", "no source"])
def test_the_database_refuses_it(db, field, text):
    with pytest.raises(IntegrityError), transaction.atomic():
        LimitOverride.objects.create(**{**LIMIT, field: text}, site=make_site(), at=NOON)


def test_one_kept_from_before_judges_nothing_and_says_so(client, scene):
    kept = {**LIMIT, "source": "none", "lower": 1.0, "upper": 99.0}
    LimitOverride.objects.create(**kept, site=scene.machine.site, at=NOON, without_source=True)
    limits = Evaluator(scene.inspection).context(scene.step()).limits
    assert limits["trip_pressure"].source != "none" and limits["trip_pressure"].basis != "local"
    client.force_login(make_person("planner"))
    assert "Not applied: no source given" in client.get("/library/limits/?view=all").text
