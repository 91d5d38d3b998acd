"""Who left a step untested, why and when: stored with the step, frozen by the signature, never erased."""

import json
from datetime import timedelta

from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.changes import changes_of
from inspections.actions import set_not_tested
from inspections.errors import StageRefused
from inspections.models import NotTestedMark
from inspections.records.signed_record import ShownRecord
from tests.factories import NOON

LATER = NOON + timedelta(minutes=5)
REASON = "No flowmeter of that range today."


def marks_of(step):
    return [(m.reason, m.by, m.at, m.undone_by, m.undone_at) for m in step.not_tested_marks.all()]


def mark(scene, reason, *, by=None, at=NOON):
    set_not_tested(scene.step("flush"), reason=reason, by=by or scene.technician, at=at)


def test_a_mark_stores_reason_person_and_moment(scene):
    mark(scene, REASON)
    assert marks_of(scene.step("flush")) == [(REASON, scene.technician, NOON, None, None)]


def test_an_undone_mark_keeps_its_reason_and_stores_who_undid_it(scene):
    mark(scene, REASON)
    mark(scene, "", by=scene.other, at=LATER)
    mark(scene, "No oxygen.", at=LATER)
    assert marks_of(scene.step("flush")) == [
        (REASON, scene.technician, NOON, scene.other, LATER),
        ("No oxygen.", scene.technician, LATER, None, None),
    ]


def test_the_same_reason_given_again_leaves_the_first_author(scene):
    mark(scene, REASON)
    mark(scene, REASON, by=scene.other, at=LATER)
    assert marks_of(scene.step("flush")) == [(REASON, scene.technician, NOON, None, None)]


def test_undoing_a_step_that_is_tested_stores_nothing(scene):
    mark(scene, "")
    assert not NotTestedMark.objects.exists()


def test_undoing_a_reason_from_before_authors_were_stored_keeps_the_reason(scene):
    scene.inspection.steps.filter(code="flush").update(not_tested_reason=REASON)
    mark(scene, "", by=scene.other, at=LATER)
    assert marks_of(scene.step("flush")) == [(REASON, None, None, scene.other, LATER)]


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(turns=st.lists(st.tuples(st.sampled_from(["", "No gas", "No gauge"]), st.booleans()), max_size=8))
def test_the_step_and_its_history_agree_and_nothing_is_lost(scene, turns):
    scene.inspection.steps.update(not_tested_reason="")
    NotTestedMark.objects.all().delete()
    given_reasons, in_force = [], ""
    for number, (reason, is_other) in enumerate(turns):
        at = NOON + timedelta(seconds=number)
        by = scene.other if is_other else scene.technician
        try:
            mark(scene, reason, by=by, at=at)
        except StageRefused:
            assert in_force and reason != in_force
            continue
        if reason and reason != in_force:
            given_reasons.append((reason, by, at))
        in_force = reason
    step = scene.step("flush")
    assert step.not_tested_reason == in_force
    assert [one.reason for one in step.not_tested_marks.in_force()] == ([in_force] if in_force else [])
    assert [(m.reason, m.by, m.at) for m in step.not_tested_marks.all()] == given_reasons


def test_the_history_of_the_inspection_shows_mark_and_undo(scene):
    mark(scene, REASON)
    mark(scene, "", by=scene.other, at=LATER)
    undone, marked = changes_of("inspection", scene.inspection.pk)[:2]
    assert (marked.by, marked.at, marked.after["Reason"]) == (scene.technician, NOON, REASON)
    assert (undone.by, undone.at, undone.after["Undone by"]) == (scene.other, LATER, str(scene.other))


def test_the_page_of_the_step_shows_who_marked_and_who_undid(client, scene):
    mark(scene, REASON)
    mark(scene, "", by=scene.other, at=LATER)
    client.force_login(scene.technician)
    page = client.get(scene.step("flush").get_absolute_url()).text
    assert REASON in page
    assert "Marked by Ana Ferro on 2 Nov 2026, 12:00." in page and "Undone by Rui Serra on 2 Nov 2026, 12:05." in page


def test_the_page_of_the_signature_shows_who_marked_a_step(client, scene):
    scene.complete()
    client.force_login(scene.technician)
    page = client.get(reverse("inspections:sign", args=[scene.inspection.pk])).text
    assert "Marked by Ana Ferro on 2 Nov 2026, 12:00" in page


def test_the_signed_record_says_who_marked_a_step_and_when_on_its_page(client, scene):
    scene.complete()
    scene.sign()
    content = json.loads(scene.inspection.record.content)
    assert [step.get("not_tested") for step in content["steps"]] == [
        None,
        None,
        {"by": {"username": scene.technician.username, "name": "Ana Ferro"}, "at": NOON.isoformat()},
    ]
    client.force_login(scene.technician)
    page = client.get(reverse("inspections:inspection", args=[scene.inspection.pk])).text
    assert "Marked by Ana Ferro on 2 Nov 2026, 12:00" in page


def test_a_record_from_before_authors_were_stored_shows_its_reason_alone(scene):
    scene.complete()
    NotTestedMark.objects.all().delete()
    scene.sign()
    [step] = ShownRecord(scene.inspection.record).not_tested
    assert "not_tested" not in step.content and step.mark is None
