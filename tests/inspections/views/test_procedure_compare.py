"""Drafts and versions are read on pages: previewed, compared, each in a fixed number of queries."""

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inspections.actions import add_draft_steps, begin_draft
from inspections.bench import TESTS
from inspections.procedure_editing.step_edits import new_step
from tests.factories import NOON, make_machine, make_person, make_procedure
from tests.inspections.views.drafting import ADD, TEXT, fields_of, make_draft, page, url


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


def test_a_preview_says_which_steps_apply_and_why_others_do_not(client, draft):
    make_machine(asset_number="AN-7", features={"o2-supply-alarm": "not fitted"})
    address = url("step", draft, "alarm")
    client.post(address, fields_of(client, address) | {"feature": "o2-supply-alarm"})
    shown = page(client, url("draft_preview", draft), machine="an-7")
    assert "Lower the oxygen pressure in steps." in shown
    assert "not fitted, since" in shown and "1 would not apply" in shown
    assert "No such machine" in page(client, url("draft_preview", draft), machine="<b>")


def test_two_versions_are_shown_side_by_side(client, writer, tmp_path):
    procedure = make_procedure(TEXT, directory=tmp_path)
    make_procedure(TEXT.replace("The alarm sounds.", "It sounds."), directory=tmp_path)
    shown = page(client, url("compare", procedure))
    assert "1 step changed" in shown and "2 steps the same" in shown
    assert "The alarm sounds." in shown and "It sounds." in shown
    assert "no difference" in page(client, url("compare", procedure), old="2", new="2")
    assert "Accepted: 2, 1" in page(client, url("compare", procedure), status=400, old="7")


def test_pages_ask_as_many_queries_for_many_steps_drafts_and_versions_as_for_few(client, draft, writer, tmp_path):
    pages = ["/library/procedures/", draft.get_absolute_url(), draft.procedure.get_absolute_url(), ADD]
    pages += [url(name, draft) for name in ("draft_compare", "step_add", "draft_not_tested", "draft_approve")]
    pages += [url("compare", draft.procedure), url("step", draft, "alarm")]
    few = [_queries(client, address) for address in pages]
    add_draft_steps(draft, [new_step(code, code=f"own-{code}", title="") for code in TESTS], by=writer, at=NOON)
    for number in range(4):
        make_procedure(TEXT.replace("The alarm sounds.", f"It sounds {number} times."), directory=tmp_path)
        begin_draft(draft.content, procedure=draft.procedure, by=make_person("planner"), at=NOON)
    assert [_queries(client, address) for address in pages] == few


def _queries(client, address):
    client.get(address)
    with CaptureQueriesContext(connection) as captured:
        assert client.get(address).status_code == 200
    return len(captured)
