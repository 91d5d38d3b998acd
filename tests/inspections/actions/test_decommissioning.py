"""Answers to the checklist at the end of a machine: what each needs, and nothing overwritten unseen."""

import pytest

from fleet.actions import withdraw_machine
from fleet.changes import changes_of
from fleet.models import Machine
from inspections.decommissioning.checklist import ITEMS
from inspections.errors import DecommissioningRefused
from inspections.models import Attachment, DecommissioningAnswer
from inspections.models.querysets.decommissioning import with_open_checklist
from tests.factories import NOON, make_machine, make_person
from tests.inspections.attachments.rows import accepted
from tests.inspections.decommissioning.runs import AT, answer, retired

pytestmark = pytest.mark.django_db


@pytest.fixture
def by():
    return make_person("manager")


def test_an_answer_is_stored_with_who_when_and_proof(by):
    machine = retired(by)
    made = answer(machine, by, "cleaned", words=" By hygiene ", file=accepted("Certificate"))
    assert (made.state, made.words, made.by, made.at) == ("done", "By hygiene", by, AT)
    assert made.proof.machine == machine and made.proof.title == "Decommissioning: Cleaned and decontaminated"
    entry = changes_of("machine", machine.pk).filter(row="inspections.decommissioninganswer").get()
    assert entry.after["Remark"] == "By hygiene"


def test_one_certificate_may_prove_two_items(by):
    machine, file = retired(by), accepted("Certificate")
    first, second = (answer(machine, by, code, file=file) for code in ("cleaned", "absorbent"))
    assert first.proof == second.proof and Attachment.objects.count() == 1


@pytest.mark.parametrize("said, words", [
    ({"code": "nothing"}, "There is no item “nothing”"),
    ({"code": "data", "state": "does not apply", "words": "  "}, "State why “Data wiped” does not apply"),
    ({"code": "data", "state": "perhaps"}, "“perhaps” is no answer. Accepted: done, does not apply"),
    ({"code": "route"}, "Choose where the machine goes: Used elsewhere"),
    ({"code": "route", "route": "river"}, "Choose where the machine goes"),
])  # fmt: skip
def test_what_is_not_accepted_is_refused_with_a_sentence_and_nothing_is_stored(by, said, words):
    machine = retired(by)
    with pytest.raises(DecommissioningRefused, match=words):
        answer(machine, by, file=accepted(), **said)
    assert not DecommissioningAnswer.objects.exists() and not Attachment.objects.exists()


def test_a_machine_in_service_has_no_answers_and_a_withdrawn_one_may(by):
    machine = make_machine(by=by)
    with pytest.raises(DecommissioningRefused, match="is in service. Withdraw it from use or retire it first"):
        answer(machine, by)
    withdraw_machine(machine, reason="Old", by=by, at=NOON)
    assert answer(machine, by).state == "done"


def test_a_route_is_stored_only_with_the_item_that_asks_for_it(by):
    machine = retired(by)
    assert answer(machine, by, "route", route="scrap").route == "scrap"
    assert answer(machine, by, "data", route="scrap").route == ""


def test_an_answer_that_the_page_did_not_show_is_not_overwritten(by):
    machine = retired(by)
    first = answer(machine, by, words="First", file=accepted())
    with pytest.raises(DecommissioningRefused, match="answered “Data wiped” meanwhile"):
        answer(machine, by, words="Second")
    later = answer(machine, by, words="Third", seen=first.at.isoformat(), at=AT.replace(hour=18))
    assert (later.pk, later.words, later.proof) == (first.pk, "Third", first.proof)
    entry = changes_of("machine", machine.pk).filter(row="inspections.decommissioninganswer").first()
    assert (entry.before["Remark"], entry.after["Remark"]) == ("First", "Third")


def test_a_checklist_is_open_until_every_item_is_answered(by):
    machine, untouched = retired(by), make_machine(by=by)
    begun = make_machine(by=by)
    withdraw_machine(begun, reason="Old", by=by, at=NOON)
    answer(begun, by)
    assert set(with_open_checklist(Machine.objects.all())) == {machine, begun}
    assert untouched not in with_open_checklist(Machine.objects.all())
    for code in ITEMS:
        answer(machine, by, code, route="parts")
    assert list(with_open_checklist(Machine.objects.all())) == [begun]
