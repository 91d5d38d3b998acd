"""What a program did with somebody's token never looks like that person's own: in rows, record, chain and on pages."""

import json
from datetime import timedelta

import pytest
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.changes import changes_of
from fleet.models import ChangeEntry
from fleet.models.attribution import author_in_words
from inspections.actions import clear_reading, report_fault, settle_contest
from inspections.chain.verification import verify_store
from inspections.models import ChainEntry, Finding, Reading
from inspections.reports.record import write_record
from tests.factories import NOON, make_token
from tests.inspections.scenes import enter

LOGGER = "program Logger with the token of Ana Ferro"


@pytest.fixture
def token(scene):
    return make_token(scene.technician, name="Logger")[0]


def flow(scene, text, *, by=None, token=None, at=NOON, **kwargs):
    return enter(
        scene.step(), "set_flow", as_read=text, unit="L/min", instrument=scene.flowmeter, by=by or scene.technician,
        token=token, at=at, **kwargs,
    )  # fmt: skip


def entries(scene):
    return list(changes_of("inspection", scene.inspection.pk).filter(about__startswith="reading"))


@pytest.fixture
def signed(scene, token):
    """A signed inspection in which a program entered a whole value, one cell of a table and an observation."""
    scene.complete()
    flow(scene, "4.1", token=token, seen=Reading.objects.current().get(field="set_flow").pk)
    cell = Reading.objects.current().get(field="falling", row=1, column="flow")
    enter(
        scene.step(), "falling", row=1, column="flow", as_read="4.1", unit="L/min", instrument=scene.flowmeter,
        by=scene.technician, token=token, at=NOON, seen=cell.pk,
    )  # fmt: skip
    alarm = scene.step("alarm")
    standing = Reading.objects.current().get(step=alarm)
    clear_reading(alarm, "seen", by=scene.technician, at=NOON, seen=standing.pk)
    enter(alarm, "seen", as_read="yes", by=scene.technician, token=token, at=NOON)
    return scene.sign()


SENTENCE = f"Entered by {LOGGER}"


class TestRecord:
    def test_the_frozen_content_names_the_program_and_the_person(self, scene, token, signed):
        steps = json.loads(signed.record.content)["steps"]
        readings = [reading for step in steps for reading in step.get("readings", [])]
        by_program = [reading for reading in readings if "program" in reading]
        assert [(r["field"], r["row"], r["column"]) for r in by_program] == [
            ("falling", 1, "flow"), ("set_flow", 0, ""), ("seen", 0, ""),
        ]  # fmt: skip
        assert all(r["program"] == {"name": "Logger", "token": token.pk} for r in by_program)
        assert all(r["entered_by"]["name"] == "Ana Ferro" for r in by_program) and len(readings) > len(by_program)

    def test_the_chain_holds_the_token_of_every_reading(self, token, signed):
        frozen = json.loads(ChainEntry.objects.get(kind="signed").content)["rows"]["reading"]
        column = frozen["fields"].index("token_id")
        stood = {row[frozen["fields"].index("id")]: row[column] for row in frozen["rows"]}
        assert stood == dict(Reading.objects.values_list("pk", "token"))
        assert list(stood.values()).count(token.pk) == 3

    @pytest.mark.parametrize("change", ["taken off", "put on"])
    def test_a_token_that_is_taken_off_a_reading_or_put_on_one_is_found(self, scene, token, signed, change):
        assert list(verify_store()) == []
        rows = Reading.objects.filter(token=token if change == "taken off" else None)
        Reading.objects.filter(pk=rows.first().pk).update(token=None if change == "taken off" else token)
        assert any("token_id" in str(trouble) for trouble in verify_store())

    def test_the_record_page_and_the_paper_say_it(self, scene, signed, client):
        client.force_login(scene.other)
        page = " ".join(client.get(signed.get_absolute_url()).content.decode().split())
        paper = " ".join(words_of(write_record(signed, [])))
        for told in (page, paper):
            assert f"{SENTENCE}: " in told
            assert told.count(SENTENCE) == 2  # the measured step and the observation
            assert "row 2, " in told

    def test_a_record_without_programs_says_nothing_of_them(self, scene, client):
        scene.complete()
        signed = scene.sign()
        client.force_login(scene.other)
        assert "program" not in signed.record.content
        assert "Entered by" not in client.get(signed.get_absolute_url()).content.decode()

    def test_an_older_entry_of_the_chain_verifies_without_the_column(self, scene, monkeypatch):
        from inspections.chain import rows

        earlier = tuple(name for name in rows.FROZEN["reading"] if name != "token_id")
        monkeypatch.setitem(rows.FROZEN, "reading", earlier)
        scene.complete()
        scene.sign()
        monkeypatch.undo()
        assert "token_id" not in ChainEntry.objects.get(kind="signed").content
        assert list(verify_store()) == []


def words_of(content):
    from io import BytesIO

    from pypdf import PdfReader

    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(content)).pages]


class TestBench:
    def test_the_page_says_that_a_program_entered_what_stands(self, scene, token, client):
        flow(scene, "4.0", token=token)
        client.force_login(scene.technician)
        assert f"by {LOGGER}" in client.get(scene.step_url).content.decode()

    def test_a_program_does_not_replace_unseen_what_its_owner_entered(self, scene, token):
        own = flow(scene, "4.0")
        kept = flow(scene, "9.9", token=token, seen=None)
        assert kept.is_contested and Reading.objects.current().get() == own

    def test_the_owner_does_not_replace_unseen_what_the_program_entered(self, scene, token, client):
        flow(scene, "9.9", token=token)
        own = flow(scene, "4.0", seen=None)
        assert own.is_contested
        client.force_login(scene.technician)
        assert f"{LOGGER[0].upper()}{LOGGER[1:]} entered" in client.get(scene.step_url).content.decode()

    def test_a_program_that_sends_again_keeps_one(self, scene, token):
        flow(scene, "4.0")
        assert flow(scene, "9.9", token=token, seen=None) == flow(scene, "9.9", token=token, seen=None)

    def test_two_programs_of_one_person_are_two(self, scene, token):
        other = make_token(scene.technician, name="Other")[0]
        flow(scene, "4.0", token=token)
        assert flow(scene, "9.9", token=other, seen=None).is_contested


class TestReplaced:
    def test_a_replaced_reading_is_told_with_who_entered_each(self, scene, token, client):
        own = flow(scene, "4.0")
        flow(scene, "4.5", token=token, seen=own.pk, at=NOON + timedelta(minutes=1))
        [entry] = entries(scene)
        assert (entry.by, entry.token, entry.author) == (scene.technician, token, LOGGER)
        assert entry.before == {
            "Flow of the other gas at the start": f"4.0 L/min, {scene.flowmeter.code}, entered by Ana Ferro"
        }
        assert entry.after == {
            "Flow of the other gas at the start": f"4.5 L/min, {scene.flowmeter.code}, entered by {LOGGER}"
        }
        client.force_login(scene.other)
        page = client.get(reverse("fleet:changes", args=["inspection", scene.inspection.pk])).content.decode()
        assert page.count(LOGGER) == 2

    def test_choosing_between_two_readings_is_told(self, scene, token):
        flow(scene, "4.0")
        beside = flow(scene, "4.5", token=token, seen=None)
        settle_contest(beside, stands=True, by=scene.other, at=NOON)
        [entry] = entries(scene)
        assert entry.by == scene.other and "4.0" in str(entry.before) and "4.5" in str(entry.after)

    def test_entering_the_same_again_or_into_an_empty_place_tells_nothing(self, scene):
        flow(scene, "4.0")
        flow(scene, "4.0")
        assert entries(scene) == []

    @settings(
        max_examples=25,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
        deadline=None,
    )
    @given(
        steps=st.lists(
            st.tuples(st.sampled_from(["4.0", "4.5", ""]), st.sampled_from(["Ana", "Rui", "program"]), st.booleans()),
            max_size=8,
        )
    )
    def test_whoever_replaces_or_takes_back_there_is_an_entry_for_each_reading_that_no_longer_stands(
        self, scene, token, steps
    ):
        Reading.objects.exclude(contests=None).delete()
        Reading.objects.all().delete()
        ChangeEntry.objects.all().delete()
        for text, who, looks in steps:
            self.act(scene, token, text, who, looks)
        fell = Reading.objects.exclude(superseded_at=None).filter(contests=None).count()
        assert len(entries(scene)) == fell
        authors = {(r.entered_by_id, r.token_id) for r in Reading.objects.all()}
        assert (scene.other.pk, token.pk) not in authors

    def act(self, scene, token, text, who, looks):
        standing = Reading.objects.current().first()
        seen = standing.pk if looks and standing else None
        by = scene.other if who == "Rui" else scene.technician
        if text:
            flow(scene, text, by=by, token=token if who == "program" else None, seen=seen)
        elif who != "program":
            clear_reading(scene.step(), "set_flow", by=by, at=NOON, seen=seen)


class TestFinding:
    def test_a_fault_that_a_program_reported_names_it_on_page_in_story_and_changes(self, scene, token, client):
        machine = scene.machine
        found = report_fault(machine, title="Leaks", severity="other", by=scene.technician, token=token, at=NOON)
        assert ChangeEntry.objects.get(record="finding").token == token
        client.force_login(scene.other)
        story = reverse("fleet:machine_history", args=[machine.pk])
        changes = reverse("fleet:changes", args=["finding", found.pk])
        for url in (found.get_absolute_url(), story, changes):
            assert LOGGER in client.get(url).content.decode(), url

    def test_a_fault_that_a_person_reported_names_nobody_else(self, scene, token, client):
        found = report_fault(scene.machine, title="Leaks", severity="other", by=scene.technician, at=NOON)
        client.force_login(scene.other)
        assert "program" not in client.get(found.get_absolute_url()).content.decode()
        assert Finding.objects.get().author == "Ana Ferro"


def test_nobody_named_is_nobody():
    assert author_in_words(None, None) == ""
