"""A department writes its procedures on pages: every form, who may, two at once, and what is refused."""

import tomllib
from datetime import timedelta

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspections.actions import add_draft_steps, begin_draft
from inspections.bench import TESTS
from inspections.models import ProcedureDraft, ProcedureVersion, Proposal
from inspections.procedure_editing.step_edits import find_step, new_step, order_of
from inspections.procedure_editing.written_form import toml_text, written_form
from tests.decisions import decision, send
from tests.factories import NOON, PASSWORD, TODAY, load_all_procedures, make_machine, make_person, make_procedure
from tests.inspections.scenes import SHORT

TEXT = SHORT + 'instruction = "Press the flush for one second."\n'
LIMIT = {"limit-0-title": "House", "limit-0-rule": "house", "limit-0-source": "Committee"}
ADD = "/library/procedures/drafts/add/"


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
    version = make_procedure(TEXT, directory=tmp_path).current_version()
    return begin_draft(written_form(version.content), procedure=version.procedure, based_on=version, by=writer, at=NOON)


def url(name, draft, *args):
    return reverse(f"inspections:procedure_{name}", args=[draft.pk, *args])


def page(client, address, status=200, **query):
    response = client.get(address, query)
    assert response.status_code == status
    return response.content.decode().replace("&#x27;", "'")


def fields_of(client, address):
    """What a browser sends of the page of a form as it is: every field with its value."""
    context = client.get(address).context
    sent = {"seen": context["seen"]}
    many = context.get("limits") if "limits" in context else context.get("forms")
    forms = [context["form"]] if "form" in context else []
    for form in [*forms, *([many.management_form, *many] if many is not None else [])]:
        for bound in form:
            value = bound.value()
            if value is not None and value is not False and value != "":
                sent[bound.html_name] = "on" if value is True else value
    return sent


def step_now(draft, code):
    draft.refresh_from_db()
    return find_step(draft.content, code)


# --- beginning ---


def test_a_draft_begins_with_nothing(client, writer):
    response = client.post(ADD, {"begin-empty": "1", "empty-title": "Monthly check", "empty-code": "monthly"})
    draft = ProcedureDraft.objects.get()
    assert response.url == draft.get_absolute_url() and (draft.title, draft.code) == ("Monthly check", "monthly")
    assert "The draft has no step. Add one." in page(client, draft.get_absolute_url())


def test_a_draft_begins_with_a_copy_of_any_version(client, writer, tmp_path):
    procedure = make_procedure(TEXT, directory=tmp_path)
    make_procedure(TEXT.replace("The alarm sounds.", "It sounds."), directory=tmp_path)
    old = procedure.versions.get(number=1)
    assert f'value="{old.pk}" selected' in page(client, ADD, copy=old.pk)
    client.post(ADD, {"begin-copy": "1", "copy-version": old.pk})
    as_new = {"copy-code": "quarterly", "copy-title": "Quarterly check"}
    client.post(ADD, {"begin-copy": "1", "copy-version": old.pk, **as_new})
    of_same, of_new = ProcedureDraft.objects.order_by("pk")
    assert (of_same.procedure, of_same.based_on) == (procedure, old)
    assert (of_new.procedure, of_new.code, of_new.title) == (None, "quarterly", "Quarterly check")
    assert step_now(of_new, "alarm")["item"] == "The alarm sounds."


def sent_file(content, name="mine.toml"):
    return {"begin-file": "1", "file-file": SimpleUploadedFile(name, content)}


def test_a_draft_begins_with_the_file_that_a_page_exported(client, draft):
    exported = client.get(url("draft_file", draft))
    assert exported["Content-Type"].startswith("application/toml") and "attachment" in exported["Content-Disposition"]
    client.post(ADD, sent_file(exported.content))
    imported = ProcedureDraft.objects.exclude(pk=draft.pk).get()
    assert imported.content == draft.content and imported.procedure == draft.procedure
    of_version = client.get(url("file", draft.procedure))
    assert tomllib.loads(of_version.content.decode()) == draft.content


@pytest.mark.parametrize(
    "sent, says",
    [
        ({"begin-empty": "1", "empty-title": "X", "empty-code": "a b"}, "Accepted: letters, digits, hyphens"),
        ({"begin-empty": "1", "empty-title": "X", "empty-code": "yearly"}, "The code “yearly” belongs to"),
        ({"begin-copy": "1", "copy-version": "1", "copy-code": "x"}, "needs both a code and a title"),
        ({"begin-copy": "1", "copy-version": "999"}, "valid choice"),
        ({"begin-file": "1"}, "Choose a file first."),
        (sent_file(b"\xff\xfe"), "not text in UTF-8: byte 1"),
        (sent_file(b"a = " + b"[" * 40_000), "nested too deeply"),
        (sent_file(b"#" * 400_001), "at most 400,000 are accepted"),
        (sent_file(b"code = 1\ntitle = 'X'\nstep = 3"), "code = int 1 is not accepted. Accepted: letters"),
        (
            sent_file(b"code = 'x'\ntitle = 'X'\n[[step]]\ncode='a'\ntitle='A'\ntest='b'"),
            "step 1 (a): There is no bench test",
        ),
        ({}, "Begin with nothing"),
    ],
    ids=range(11),
)
def test_what_cannot_begin_a_draft_is_refused_with_what_is_accepted(client, draft, sent, says):
    sent = {**sent}
    if "copy-version" in sent and sent["copy-version"] == "1":
        sent["copy-version"] = draft.based_on_id
    response = client.post(ADD, sent)
    assert response.status_code == 422 and says in response.content.decode().replace("&#x27;", "'")
    assert ProcedureDraft.objects.count() == 1


# --- writing ---


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


def test_the_head_and_what_is_not_tested_are_written(client, draft):
    head = url("draft_head", draft)
    sent = fields_of(client, head) | {"title": "Long", "interval_months": "6", "cautions": "One.\r\n\r\nTwo."}
    client.post(head, sent)
    not_tested = url("draft_not_tested", draft)
    entry = {"entry-0-features": ["o2-last"], "entry-0-reason": "It is built in."}
    client.post(not_tested, fields_of(client, not_tested) | entry)
    draft.refresh_from_db()
    assert (draft.title, draft.content["interval_months"], draft.content["cautions"]) == ("Long", 6, ["One.", "Two."])
    assert draft.content["not_tested_here"] == [{"features": ["o2-last"], "reason": "It is built in."}]
    shown = page(client, draft.get_absolute_url())
    assert "It is built in." in shown and "leaves out 1 with a reason" in shown
    client.post(not_tested, fields_of(client, not_tested) | {"entry-0-DELETE": "on"})
    draft.refresh_from_db()
    assert "not_tested_here" not in draft.content


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


def test_two_editors_of_the_head_are_shown_what_the_first_stored(client, draft):
    other = Client()
    other.force_login(make_person("planner", last_name="Brandt"))
    head = url("draft_head", draft)
    mine = fields_of(client, head)
    other.post(head, fields_of(other, head) | {"title": "Theirs"})
    response = client.post(head, mine | {"title": "Mine"})
    assert response.status_code == 409 and "Theirs" in response.content.decode()


# --- approval ---


def propose(client, draft, **fields):
    address = url("draft_approve", draft)
    return send(client, address, decision(**{"from_date": TODAY, **fields}))


def test_a_draft_is_proposed_and_another_person_approves_it(client, draft, writer):
    later = TODAY + timedelta(days=3)
    response = propose(client, draft, from_date=later)
    proposal = Proposal.objects.get()
    assert response.url == proposal.get_absolute_url() and (proposal.draft, proposal.site) == (draft, None)
    assert "Waits for approval" in page(client, draft.get_absolute_url())
    own = page(client, proposal.get_absolute_url())
    assert "You proposed" in own and ">Confirm<" not in own
    second = Client()
    second.force_login(make_person("manager"))
    assert url("draft_compare", draft) in page(second, proposal.get_absolute_url())
    second.post(proposal.get_absolute_url(), {"confirm": "1", "password": PASSWORD})
    version = ProcedureVersion.objects.get(number=2)
    assert version.from_date == later
    shown = page(client, version.get_absolute_url())
    assert "A version that begins later" in shown and f"Proposed by {writer}" in shown
    assert "version 2 begins on" in page(client, "/library/procedures/")
    assert "Version 1" in page(client, draft.procedure.get_absolute_url())


@pytest.mark.parametrize(
    "fields, says",
    [
        ({"from_date": TODAY - timedelta(days=1)}, "is in the past. Accepted: 2 Nov 2026 or a later day"),
        ({"password": "wrong"}, "not the password of your account"),
        ({"reason": ""}, "Give a reason"),
    ],
)
def test_a_proposal_that_cannot_be_is_refused(client, draft, fields, says):
    response = propose(client, draft, **fields)
    assert response.status_code == 422 and says in response.content.decode()
    assert not Proposal.objects.exists()


def test_a_draft_that_changed_since_the_page_was_opened_is_not_proposed(client, draft, writer):
    address = url("draft_approve", draft)
    shown = client.get(address).context["shown"]
    add_draft_steps(draft, [new_step("regulator", code="own", title="") | {"instruction": "Read."}], by=writer, at=NOON)
    response = client.post(address, decision(from_date=TODAY, shown=shown))
    assert response.status_code == 409 and not Proposal.objects.exists()


# --- who may ---


WRITING = ("draft_head", "draft_not_tested", "draft_approve", "draft_discard", "step_add")
OF_A_STEP = ("step", "step_move", "step_remove")


@pytest.mark.parametrize("group", ["auditor", "technician", "manager"])
def test_only_a_planner_writes_and_whoever_reads_the_library_reads(client, draft, group):
    client.force_login(make_person(group))
    for name in ("draft", "draft_preview", "draft_compare", "draft_file"):
        assert client.get(url(name, draft)).status_code == 200
    shown = page(client, draft.get_absolute_url())
    assert "Add steps" not in shown and ">Up<" not in shown
    assert "Write a procedure" not in page(client, "/library/procedures/")
    addresses = [url(name, draft) for name in WRITING] + [url(name, draft, "alarm") for name in OF_A_STEP]
    assert {client.post(one).status_code for one in (ADD, *addresses)} == {403}
    before = draft.content
    draft.refresh_from_db()
    assert draft.content == before and draft.is_being_written


def test_a_planner_of_one_site_proposes_and_sees_the_own_proposal_but_approves_none(client, draft):
    narrowed = make_person("planner", sites=[make_machine().site])
    client.force_login(narrowed)
    response = propose(client, draft)
    assert "You can take it back" in page(client, response.url)
    client.force_login(make_person("planner", sites=[make_machine().site]))
    assert client.get(response.url).status_code == 404


# --- reading ---


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


def test_a_discarded_draft_stays_readable(client, draft):
    client.post(url("draft_discard", draft))
    draft.refresh_from_db()
    shown = page(client, draft.get_absolute_url())
    assert draft.state == "discarded" and "discarded" in shown and "Add steps" not in shown
    again = client.post(url("draft_discard", draft), follow=True)
    assert "cannot be changed" in again.content.decode()
    assert toml_text(draft.content) == client.get(url("draft_file", draft)).content.decode()
