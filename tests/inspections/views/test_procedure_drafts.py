"""A department writes its procedures on pages: how a draft begins and ends, and who may do what."""

import tomllib
from datetime import timedelta

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from inspections.actions import add_draft_steps
from inspections.models import ProcedureDraft, ProcedureVersion, Proposal
from inspections.procedure_editing.step_edits import new_step
from inspections.procedure_editing.written_form import toml_text
from tests.decisions import decision, send
from tests.factories import NOON, PASSWORD, TODAY, make_machine, make_person, make_procedure
from tests.inspections.views.drafting import ADD, TEXT, fields_of, make_draft, page, step_now, url


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


def test_a_discarded_draft_stays_readable(client, draft):
    client.post(url("draft_discard", draft))
    draft.refresh_from_db()
    shown = page(client, draft.get_absolute_url())
    assert draft.state == "discarded" and "discarded" in shown and "Add steps" not in shown
    again = client.post(url("draft_discard", draft), follow=True)
    assert "cannot be changed" in again.content.decode()
    assert toml_text(draft.content) == client.get(url("draft_file", draft)).content.decode()
