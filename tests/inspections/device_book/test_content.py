"""What a device book says of a machine that has lived through everything, and how much it asks of the database."""

import json

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import Machine
from inspections.device_book import sections
from inspections.device_book.content import TITLES, content_of, records_of, written
from inspections.device_book.sections import Column, Table
from inspections.models import Attachment, Finding
from tests.factories import NOON, make_component, make_machine, make_person
from tests.inspections.attachments.rows import attach
from tests.inspections.device_book.lives import live


def book_of(machine, by):
    return content_of(Machine.objects.with_place().get(pk=machine.pk), by=by, at=NOON)


def rows_of(content, code):
    return next(one for one in content["sections"] if one["code"] == code)["rows"]


@pytest.fixture
def lived(scene):
    signed = live(scene)
    return scene.machine, signed, book_of(scene.machine, scene.other)


def test_identity_is_that_of_the_register(lived):
    machine, _, content = lived
    told = content["machine"]
    assert (told["asset_number"], told["status"], told["area"]) == (machine.asset_number, "Retired", "Theatre 9")
    assert content["time_zone"] == "Europe/Lisbon" and content["made_at"] == NOON.isoformat()


TOLD = (
    ("status", "Too old"),
    ("places", "Theatre 9"),
    ("loans", "Ward of the test"),
    ("handover", "Old acceptance (recorded elsewhere)"),
    ("instructed", "Course of May"),
    ("users", "Row Lind"),
    ("users", "Row works"),
    ("software", "Row report 77"),
    ("inspections", "Short inspection, version 1"),
    ("not_passed", "Oxygen supply failure"),
    ("amendments", "Read 27 psi."),
    ("not_done", "In use"),
    ("earlier", "Old acceptance"),
    ("findings", "Vaporizer tipped"),
    ("use_errors", "Carried filled"),
    ("incidents", "Rui Serra"),
    ("reports", "Label"),
    ("notices", "FSN-7"),
    ("components", "SN-77"),
    ("components", "Old hose"),
    ("decommissioning", "It never had any"),
    ("files", "Letter of the works"),
    ("files", "Picture of the fault"),
    ("files", "withdrawn: Other machine"),
)


def test_every_part_of_its_life_is_told(lived):
    for code, words in TOLD:
        assert words in json.dumps(rows_of(lived[2], code), ensure_ascii=False), code


def test_the_digest_of_a_record_and_of_a_file_is_the_stored_one(lived):
    machine, signed, content = lived
    assert [one["digest"] for one in rows_of(content, "inspections")] == [signed.record.digest]
    stored = {one.pk: one.digest for one in Attachment.objects.of_machine(machine)}
    assert {int(one["number"]): one["digest"] for one in rows_of(content, "files")} == stored
    assert [(pk, digest) for pk, _, digest in records_of(machine)] == [(signed.pk, signed.record.digest)]


def test_only_use_errors_are_among_the_use_errors(lived):
    machine, _, content = lived
    assert len(rows_of(content, "use_errors")) == 1
    assert len(rows_of(content, "findings")) == Finding.objects.filter(machine=machine).count() > 1


def test_the_same_record_gives_the_same_digest_wherever_it_is_made(lived, scene, settings):
    text, digest = written(lived[2])
    assert written(book_of(scene.machine, scene.other)) == (text, digest)
    assert json.loads(text) == lived[2] and len(digest) == 64


def test_a_new_machine_says_of_each_part_that_there_is_nothing(db):
    by = make_person("auditor")
    content = book_of(make_machine(by=by), by)
    assert [one["title"] for one in content["sections"]] == TITLES
    with_rows = {one["code"] for one in content["sections"] if one["rows"]}
    assert with_rows <= {"status", "places", "handover", "features"}
    assert all(one["empty"].endswith(".") for one in content["sections"])


def test_what_does_not_fit_is_counted(db, monkeypatch):
    machine = make_machine()
    for number in range(5):
        make_component(machine, label=f"Valve {number}")
    table = Table("x", "X", (Column("label", "Label", 1.0),), "Nothing.", most=3)
    section = table.of(machine.components.order_by("label"), lambda one: (one.label,))
    assert (len(section.rows), section.left_out) == (3, 2)
    assert sections.MOST_ROWS == 2000


def test_a_longer_life_asks_no_more_queries(scene):
    live(scene)
    by = scene.other

    def queries():
        with CaptureQueriesContext(connection) as captured:
            book_of(scene.machine, by)
        assert not any('"inspections_attachment"."content"' in one["sql"] for one in captured)
        return len(captured)

    few = queries()
    for number in range(6):
        component = make_component(scene.machine, label=f"Valve {number}")
        attach(make_person(), f"Paper {number}", component=component)
        attach(make_person(), f"Paper {number}", machine=scene.machine)
        Finding.objects.create(
            machine=scene.machine, origin="fault report", severity="other", title="x", opened_by=by, opened_at=NOON
        )
    assert queries() == few
