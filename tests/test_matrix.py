"""Who may do what, asked in real requests; and nothing of another site in any answer."""

import io
import zipfile

import pytest
from django.db import transaction
from openpyxl import load_workbook
from pypdf import PdfReader

from tests.factories import make_person, make_site
from tests.matrix.addresses import all_addresses
from tests.matrix.asking import Asker, is_let_in, within_one_transaction
from tests.matrix.scene import MARK, make_scene, person_of_every_group
from tests.matrix.table import EVERY_GROUP, ask_everything, held_back_tokens, printed, table_text

LABEL_PAGES = {f"inspections:{name}" for name in ("label_page", "label_fault", "label_check", "label_done")}
FEEDS = {"inspections:calendar_feed"}
OPEN_TO_ALL = {
    "login", "session", "password_set", "health", "health_live", "api:openapi-json", "service_worker", "device_contact",
    *FEEDS,
    *LABEL_PAGES,
}  # fmt: skip
ADDRESSES = all_addresses()
# Work that only reads: a verification, a comparison with a printed record, results or a cover table computed from the
# records, many records at once.
READ_BY_POST = {
    "fleet:machine_cover_first",
    "inspections:check_pdf",
    "inspections:device_book",
    "inspections:device_books",
    "inspections:found_error",
    "inspections:record_papers",
    "inspections:reevaluation",
    "inspections:verify",
}
WHY = {"token not confirmed": "is not confirmed", "token revoked": "is revoked", "token ran out": "expired on"}
DRAFTS = {  # procedures are the same at every site, and so are their drafts
    f"inspections:procedure_{name}" for name in (
        "draft", "draft_head", "draft_not_tested", "draft_preview", "draft_compare", "draft_file", "draft_approve",
        "draft_discard", "step_add", "step", "step_move", "step_remove",
    )
}  # fmt: skip
OF_NO_SITE = {  # the same everywhere
    "fleet:model", "fleet:model_edit", "fleet:model_circuit", "fleet:model_circuit_file", "inspections:procedure",
    "inspections:procedure_compare", "inspections:procedure_file", "inspections:procedure_instruments", *DRAFTS,
    "api:machine_model", "inspections:component_life_end", "inspections:interval_dossier",
    "inspections:interval_dossier_discard", "inspections:evidence_policy",
    *(f"inspections:notice{end}" for end in ("", "_criterion_add", "_match", "_work", "_close", "_proof", "_reply")),
    "inspections:notice_settle", "inspections:notice_criterion_withdraw", "inspections:notice_criterion_correct",
}  # fmt: skip


@pytest.fixture(scope="module")
def answers(request, django_db_blocker):
    """Ask once for the module; all changes are rolled back at the end.

    The database fixture is requested by name, so that these tests do not get its mark: rights are the same on both.
    """
    request.getfixturevalue("django_db_setup")
    with django_db_blocker.unblock(), transaction.atomic(), within_one_transaction():
        yield ask_everything()
        transaction.set_rollback(True)


def test_the_table_in_the_document_is_what_the_requests_say(answers):
    assert printed() == table_text(answers), "Run: python -m tests.matrix --write"


def test_nobody_gets_past_the_login(answers):
    let_in = {address.name for (address, _), is_open in answers["nobody"].items() if is_open}
    assert let_in == OPEN_TO_ALL


def test_somebody_in_no_group_reads_no_record(answers):
    let_in = {a for (a, method), is_open in answers["no group"].items() if is_open and method != "OPTIONS"}
    assert not [a for a in let_in if a.is_of_an_object or (a.is_api and a.name not in OPEN_TO_ALL)]


def test_only_a_planner_in_chief_looks_after_people(answers):
    people = [a for a in ADDRESSES if a.route.startswith("people/")]
    assert len(people) > 5
    for name, of_one in answers.items():
        opened = [a for a in people for m in ("GET", "POST") if of_one[a, m]]
        assert bool(opened) == (name == "planner-in-chief")


def test_an_auditor_changes_nothing_of_a_record(answers):
    posts = {a.name for (a, method), is_open in answers["auditor"].items() if is_open and method == "POST"}
    own = {"login", "logout", "session", "password_change", "password_set", "second_factor_set_up",
           "second_factor_remove", "second_factor_ask", "fleet:digest", "fleet:own_token_confirm",
           "fleet:own_token_revoke", "fleet:passkey_options", "fleet:passkey_add", "fleet:passkey_rename",
           "fleet:passkey_remove", "first_day_put_away", "first_day_show"}  # fmt: skip
    assert posts - own - LABEL_PAGES == READ_BY_POST


def test_a_second_factor_that_is_wanted_opens_its_own_pages_alone(answers):
    open_pages = {a.name for a in ADDRESSES if a.name in OPEN_TO_ALL and not a.is_api}
    for name in ("factor to set up", "factor to give"):
        opened = {address.name for (address, _), is_open in answers[name].items() if is_open}
        assert opened == open_pages | {"logout", "second_factor_set_up", "second_factor_ask"}
        assert {a for a, _ in answers[name]} == {a for a in ADDRESSES if not a.is_api}


def test_a_token_that_is_held_back_opens_nothing_and_is_told_why_in_a_sentence(db):
    scene = make_scene()
    for name, asker in held_back_tokens().items():
        for address in [a for a in ADDRESSES if a.is_api and a.name not in OPEN_TO_ALL]:
            for method in ("GET", "POST"):
                response = asker.ask(address, method, scene.values_of(address))
                if response.status_code not in (404, 405):
                    assert response.status_code == 401, (name, address, method)
                    assert WHY[name] in response.json()["detail"]


def test_a_token_of_a_group_without_the_right_is_told_which_right_it_lacks(db):
    scene, told = make_scene(), set()
    for group in ("auditor", "manager", "planner"):
        asker = Asker(make_person(group), group)
        for address in [a for a in ADDRESSES if a.is_api]:
            for method in ("GET", "POST"):
                response = asker.ask(address, method, scene.values_of(address))
                if response.status_code == 403:
                    assert f"acts for the group {group}, which lacks " in response.json()["detail"]
                    told.add((group, address.name))
    assert ("auditor", "api:fault_report") in told and ("manager", "api:reading_enter") in told


def test_no_address_takes_put_patch_or_delete(answers):
    taken = {
        (address.name, method)
        for of_one in answers.values()
        for (address, method), is_open in of_one.items()
        if is_open and method in ("PUT", "PATCH", "DELETE")
    }
    asked = {method for _, method in answers[EVERY_GROUP]}
    assert taken == set() and asked > {"PUT", "PATCH", "DELETE"}


def test_looking_and_asking_for_the_head_alone_go_together(answers):
    for of_one in answers.values():
        differing = [a.name for a in ADDRESSES if not a.is_api and of_one[a, "HEAD"] and not of_one[a, "GET"]]
        assert differing == []


@within_one_transaction()
def test_a_token_opens_no_page_and_a_session_not_the_api(db):
    scene = make_scene()
    asker = Asker(scene.planner, "planner")
    for address in ADDRESSES:
        if address.name in OPEN_TO_ALL:
            continue
        response = asker.ask(address, "GET", scene.values_of(address), by_token=not address.is_api)
        assert not is_let_in(response), address


@pytest.mark.same_on_both
@pytest.mark.parametrize("by_token", [False, True])
@within_one_transaction()
def test_somebody_narrowed_to_another_site_finds_nothing_of_this_one(db, by_token):
    scene = make_scene()
    other = person_of_every_group(sites=[make_site(name="Elsewhere")])
    asker = Asker(other, "technician")
    for address in [a for a in ADDRESSES if a.is_api == by_token]:
        for method in ("GET", "POST"):
            values = scene.values_of(address)
            response = asker.ask(address, method, values)
            if address.is_of_an_object and address.name not in OF_NO_SITE:
                of_nothing = asker.ask(address, method, values | {"pk": 10**9})
                assert response.status_code == of_nothing.status_code >= 400, (address, method)
            if address.name not in LABEL_PAGES | FEEDS:  # whoever has the code sees the asset number
                assert MARK not in text_of(response), (address, method)


@pytest.mark.same_on_both
@within_one_transaction()
def test_the_marks_that_the_narrowed_person_must_not_find_are_there_to_be_found(db):
    scene = make_scene()
    asker = Asker(person_of_every_group(), "planner")
    shown = [a for a in ADDRESSES if MARK in text_of(asker.ask(a, "GET", scene.values_of(a)))]
    assert len(shown) > 40


def text_of(response):
    """Return the text of a page, a sheet, a PDF or an archive."""
    content = getattr(response, "read", None) if response.streaming else response.content
    if content[:4] == b"%PDF":
        return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
    if content[:2] == b"PK":
        names = zipfile.ZipFile(io.BytesIO(content)).namelist()
        if "xl/workbook.xml" in names:
            sheets = load_workbook(io.BytesIO(content)).worksheets
            return "\n".join(str(cell.value) for sheet in sheets for row in sheet.iter_rows() for cell in row)
        return "\n".join(names)
    return content.decode("utf-8", errors="replace")
