from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from fleet.changes import changes_of
from fleet.photographs import PhotographRefused
from inspections.actions import (
    add_photograph,
    caption_photograph,
    remove_photograph,
    void_inspection,
    write_remark,
)
from inspections.errors import RecordFrozen, RemarkContested
from inspections.models import Photograph, StepRemark
from inspections.models.step_notes import MOST_PHOTOGRAPHS
from tests.factories import NOON, make_person, make_site
from tests.fleet.photographs.pictures import clean_picture as clean

LATER = NOON + timedelta(minutes=5)


def add(scene, width=96, **fields):
    return add_photograph(scene.step(), clean(width), by=scene.technician, at=NOON, **fields)


def remark(scene, text, *, by=None, at=NOON, **seen):
    return write_remark(scene.step(), text, by=by or scene.technician, at=at, **seen)


def changes(scene):
    return changes_of("inspection", scene.inspection.pk)


class TestRemark:
    def test_says_who_and_when_and_the_changes_hold_what_it_said_before(self, scene):
        remark(scene, " Valve sticks. ")
        remark(scene, "Valve sticks, cleaned.", at=LATER)
        stored_remark = StepRemark.objects.get()
        assert (stored_remark.text, stored_remark.by, stored_remark.at) == (
            "Valve sticks, cleaned.",
            scene.technician,
            LATER,
        )
        newest = changes(scene).first()
        assert (newest.before["Remark"], newest.after["Remark"]) == ("Valve sticks.", "Valve sticks, cleaned.")

    def test_that_was_written_meanwhile_stays(self, scene):
        other = make_person("technician")
        remark(scene, "Mine.", by=other)
        with pytest.raises(RemarkContested, match="Mine."):
            remark(scene, "Yours.", at=LATER, seen="")
        assert StepRemark.objects.get().text == "Mine."
        assert remark(scene, "Both.", at=LATER, seen=NOON.isoformat()).text == "Both."

    def test_of_ones_own_is_replaced_unseen_and_the_changes_hold_it(self, scene):
        remark(scene, "Valve")
        assert remark(scene, "Hose worn", at=LATER, seen="").text == "Hose worn"
        assert changes(scene).first().before["Remark"] == "Valve"

    def test_sent_twice_is_one(self, scene):
        assert remark(scene, "Valve sticks.") == remark(scene, "Valve sticks.", at=LATER, seen="")
        assert changes(scene).filter(row="inspections.stepremark").count() == 1

    def test_that_is_taken_back_is_empty(self, scene):
        assert remark(scene, "  ") is None and not StepRemark.objects.exists()
        remark(scene, "Valve sticks.")
        assert remark(scene, "", at=LATER).text == ""


class TestPhotograph:
    def test_is_stored_with_its_digest_and_who_took_it(self, scene):
        photograph = add(scene, caption=" Worn hose ")
        found = Photograph.objects.with_pictures().get()
        assert bytes(found.content) == clean().content and found.digest == clean().digest
        assert (found.caption, found.by, found.at, found.width, found.height) == (
            "Worn hose", scene.technician, NOON, 96, 64,
        )  # fmt: skip
        assert changes(scene).filter(row="inspections.photograph", row_pk=photograph.pk).count() == 1

    def test_sent_twice_is_one(self, scene):
        assert add(scene) == add(scene, caption="Again")
        assert Photograph.objects.count() == 1

    def test_one_too_many_is_refused(self, scene):
        for width in range(40, 40 + MOST_PHOTOGRAPHS):
            add(scene, width)
        with pytest.raises(PhotographRefused, match="12 photographs already.*Remove one"):
            add(scene)
        remove_photograph(Photograph.objects.first(), by=scene.technician, at=LATER)
        assert add(scene)

    def test_that_is_removed_leaves_who_and_when_but_no_picture(self, scene):
        photograph = add(scene)
        remove_photograph(photograph, by=scene.technician, at=LATER)
        found = Photograph.objects.with_pictures().get()
        assert (found.content, found.preview, found.removed_by, found.removed_at) == (
            None, None, scene.technician, LATER,
        )  # fmt: skip
        assert found.digest == clean().digest
        newest = changes(scene).first()
        assert newest.after["Removed at"] == LATER.isoformat()
        assert add(scene).pk != photograph.pk

    def test_caption_is_changed_until_the_photograph_is_removed(self, scene):
        photograph = add(scene, caption="Hose")
        caption_photograph(photograph, " Worn hose ", by=scene.technician, at=LATER)
        remove_photograph(photograph, by=scene.technician, at=LATER)
        caption_photograph(photograph, "Other", by=scene.technician, at=LATER)
        assert Photograph.objects.get().caption == "Worn hose"

    def test_belongs_to_a_step_or_a_finding_and_has_its_picture_until_it_is_removed(self, scene):
        for fields in ({"step": None}, {"removed_at": NOON}, {"content": None}):
            row = Photograph.of_clean(clean(), step=scene.step(), at=NOON)
            for name, value in fields.items():
                setattr(row, name, value)
            with pytest.raises(IntegrityError), transaction.atomic():
                row.save()

    def test_is_visible_at_its_site_only(self, scene):
        photograph = add(scene)
        elsewhere = make_person("technician", sites=[make_site()])
        here = make_person("technician", sites=[scene.machine.site])
        assert list(Photograph.objects.visible_to(here)) == [photograph]
        assert list(Photograph.objects.visible_to(make_person("auditor"))) == [photograph]
        assert not Photograph.objects.visible_to(elsewhere)


def act_on(scene, photograph):
    """Every act of this room, by name."""
    who = {"by": scene.technician, "at": LATER}
    return {
        "remark": lambda: remark(scene, "Late.", at=LATER),
        "add": lambda: add(scene, 80),
        "caption": lambda: caption_photograph(photograph, "Late", **who),
        "remove": lambda: remove_photograph(photograph, **who),
    }


@pytest.mark.parametrize("act", ["remark", "add", "caption", "remove"])
@pytest.mark.parametrize("end", ["signed", "void"])
def test_nothing_is_noted_after_the_signature(scene, act, end):
    photograph = add(scene)
    if end == "signed":
        scene.complete()
        scene.sign()
    else:
        void_inspection(
            scene.inspection, reason="Wrong machine", by=scene.technician, at=LATER, although_in_progress=True
        )
    before = (list(Photograph.objects.values()), list(StepRemark.objects.values()))
    with pytest.raises(RecordFrozen, match="locked"):
        act_on(scene, photograph)[act]()
    assert before == (list(Photograph.objects.values()), list(StepRemark.objects.values()))


@pytest.mark.parametrize("name, column", [("photograph", "content"), ("photograph_preview", "preview")])
def test_a_photograph_is_served_as_a_picture_that_can_run_nothing(scene, client, name, column):
    photograph = add(scene)
    client.force_login(make_person("auditor"))
    answer = client.get(reverse(f"inspections:{name}", args=[photograph.pk]))
    assert answer.content == getattr(clean(), column)
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "private" in answer["Cache-Control"] and "public" not in answer["Cache-Control"]
    policy = answer["Content-Security-Policy"]
    assert "default-src 'none'" in policy and "sandbox" in policy and "script-src" not in policy


def test_a_photograph_that_was_removed_or_is_elsewhere_is_not_found(scene, client):
    photograph = add(scene)
    url = reverse("inspections:photograph", args=[photograph.pk])
    client.force_login(make_person("technician", sites=[make_site()]))
    assert client.get(url).status_code == 404
    remove_photograph(photograph, by=scene.technician, at=LATER)
    client.force_login(scene.technician)
    assert client.get(url).status_code == 404
