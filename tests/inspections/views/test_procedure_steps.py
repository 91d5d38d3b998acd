"""The steps of a draft on pages: added, written, moved and removed, by one person or by two at once."""

import pytest
import time_machine
from django.test import Client

from inspections.actions import begin_draft
from inspections.bench import TESTS
from inspections.models import ProcedureVersion
from inspections.procedure_editing.step_edits import new_step, order_of
from inspections.procedure_editing.written_form import written_form
from tests.factories import NOON, load_all_procedures, make_person
from tests.inspections.views.drafting import fields_of, make_draft, page, step_now, url

LIMIT = {"limit-0-title": "House", "limit-0-rule": "house", "limit-0-source": "Committee"}


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def writer(client, db):
    writer = make_person("planner")
    client.force_login(writer)
    return writer


@pytest.fixture
def draft(writer, tmp_path):
    return make_draft(writer, tmp_path)


def test_steps_are_added_from_every_bench_test_and_from_the_shared_ones(client, draft):
    add = url("step_add", draft)
    for code in TESTS:
        assert f'value="{code}"' in page(client, add)
    client.post(add, {"add-own": "1", "own-test": "regulator", "own-title": "Own regulator", "own-after": "alarm"})
    client.post(add, {"add-shared": "1", "shared-steps": ["flush-guard", "analyser"], "shared-after": ""})
    draft.refresh_from_db()
    codes = ["supply-failure", "alarm", "regulator", "flush", "flush-guard", "analyser"]
    assert order_of(draft.content) == codes
    assert step_now(draft, "flush-guard")["item"]
    refused = client.post(add, {"add-own": "1", "own-test": "regulator", "own-code": "alarm"})
    assert refused.status_code == 422 and "There is a step “alarm” already" in refused.content.decode()


def test_every_bench_test_and_every_shared_step_opens_saves_as_it_is_and_differs_in_nothing(client, writer):
    load_all_procedures()
    content = {"code": "all", "title": "All", "step": [new_step(code, code=code, title="") for code in TESTS]}
    every = begin_draft(content, by=writer, at=NOON)
    yearly = ProcedureVersion.objects.get(procedure__code="acceptance")
    shipped = begin_draft(written_form(yearly.content), procedure=yearly.procedure, by=writer, at=NOON)
    for one in (every, shipped):
        for code in order_of(one.content):
            address = url("step", one, code)
            response = client.post(address, fields_of(client, address))
            assert response.status_code == 302, (code, response.context["form"].errors)
        before = one.content
        one.refresh_from_db()
        assert one.content == before


def test_a_step_is_written_with_texts_conditions_and_a_limit(client, draft):
    address = url("step", draft, "supply-failure")
    sent = fields_of(client, address)
    sent |= {
        "title": "Cut-off", "instruction": "Lower it.\r\nRead it.", "gas": "", "each": "on",
        "feature": "o2-failure-protection",
        "needs": ["pipeline"], "repeat_after": ["gauge"], "conditional": "remark", "limit-0-key": "trip_pressure",
        "limit-0-rule": "house", "limit-0-title": "House limit", "limit-0-lower": "26,5", "limit-0-unit": "psi",
        "limit-0-source": "Committee, 2026", "limit-0-basis": "local",
    }  # fmt: skip
    response = client.post(address, sent)
    assert response.status_code == 302 and response.url.endswith("#step-supply-failure")
    step = step_now(draft, "supply-failure")
    assert (step["title"], step["instruction"], step["each"]) == ("Cut-off", "Lower it.\nRead it.", "other gas")
    assert (step["needs"], step["repeat_after"], step["essential"]) == (["pipeline"], ["gauge"], True)
    assert "gas" not in step
    [limit] = step["limit"]
    assert (limit["lower"], limit["unit"], limit["rule"], limit["basis"]) == (26.5, "psi", "house", "local")
    sent = fields_of(client, address)
    assert sent["limit-0-rule"] == "house" and "house" in [value for value, _ in _rules_offered(client, address)]
    client.post(address, {**sent, "rule-trip_pressure": "house"})
    assert step_now(draft, "supply-failure")["rules"] == {"trip_pressure": "house"}
    client.post(address, {**fields_of(client, address), "limit-0-DELETE": "on", "rule-trip_pressure": ""})
    assert not {"limit", "rules"} & step_now(draft, "supply-failure").keys()


def _rules_offered(client, address):
    return client.get(address).context["form"].fields["rule-trip_pressure"].choices


@pytest.mark.parametrize(
    "fields, says",
    [
        ({"title": ""}, "This field is required"),
        ({"code": "flush"}, "code “flush” is used by another step"),
        ({"limit-0-title": "House"}, "This field is required"),
        (LIMIT, "give a lower limit, an upper limit or both"),
        ({**LIMIT, "limit-0-lower": "5", "limit-0-unit": "L/min"}, "is not measured in “L/min”. Accepted: psi"),
        ({"rule-trip_pressure": "no-such"}, "valid choice"),
    ],
)  # fmt: skip
def test_a_refused_step_names_the_field_and_keeps_what_was_typed_and_nothing_is_saved(client, draft, fields, says):
    address, before = url("step", draft, "supply-failure"), step_now(draft, "supply-failure")
    response = client.post(address, {**fields_of(client, address), "purpose": "Typed by me.", **fields})
    shown = response.content.decode().replace("&#x27;", "'")
    assert response.status_code == 422 and says in shown and "Typed by me." in shown
    assert step_now(draft, "supply-failure") == before


def test_a_step_moves_by_a_button_and_the_page_returns_to_it(client, draft):
    seen = client.get(draft.get_absolute_url()).context["order"]
    response = client.post(url("step_move", draft, "alarm"), {"seen": seen, "up": "1"})
    assert response.url == f"{draft.get_absolute_url()}#step-alarm"
    draft.refresh_from_db()
    assert order_of(draft.content) == ["alarm", "supply-failure", "flush"]
    late = client.post(url("step_move", draft, "alarm"), {"seen": seen, "down": "1"}, follow=True)
    assert "meanwhile changed the order of the steps" in late.content.decode()
    assert "choose up or down" in client.post(url("step_move", draft, "alarm"), follow=True).content.decode()


def test_a_step_is_removed_from_its_page(client, draft):
    seen = client.get(url("step", draft, "alarm")).context["seen"]
    client.post(url("step_remove", draft, "alarm"), {"seen": seen})
    draft.refresh_from_db()
    assert order_of(draft.content) == ["supply-failure", "flush"]
    assert client.get(url("step", draft, "alarm")).status_code == 404
    again = client.post(url("step_remove", draft, "alarm"), {"seen": seen}, follow=True)
    assert "which is removed" in again.content.decode()


def test_two_editors_of_one_step_are_shown_what_the_first_stored(client, draft):
    other = Client()
    other.force_login(make_person("planner", last_name="Brandt"))
    address = url("step", draft, "alarm")
    mine, theirs = fields_of(client, address), fields_of(other, address)
    assert other.post(address, theirs | {"item": "It is loud."}).status_code == 302
    response = client.post(address, mine | {"item": "It is shrill."})
    shown = response.content.decode()
    assert response.status_code == 409 and "Brandt has meanwhile changed step" in shown
    assert "It is loud." in shown and "It is shrill." in shown
    assert step_now(draft, "alarm")["item"] == "It is loud."
    client.post(address, mine | {"item": "It is shrill.", "seen": response.context["seen"]})
    assert step_now(draft, "alarm")["item"] == "It is shrill."
